"""What leaves for the bench: pictures, pages, tables, slider panels."""
