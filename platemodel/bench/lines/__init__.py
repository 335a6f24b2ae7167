"""Lines that a job's bar could have, side by side: result and page."""
