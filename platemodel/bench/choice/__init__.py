"""Choice of a bar for a job: result, pictures, page."""
