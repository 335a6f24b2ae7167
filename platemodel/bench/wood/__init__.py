"""Wood of a job's top: result, pictures and page."""
