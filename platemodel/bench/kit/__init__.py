"""What all pages share: paper, plots of tops, wrapped text."""
