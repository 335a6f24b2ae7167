"""The history of a job as text and pages."""
