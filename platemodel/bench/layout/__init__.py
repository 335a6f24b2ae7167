"""Layout, seat and cut list of a job: result and sheets."""
