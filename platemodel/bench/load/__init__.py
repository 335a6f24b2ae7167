"""String load of a job: result, pictures, page."""
