"""What a stroke of plane or scraper does, place by place: result, pictures, page."""
