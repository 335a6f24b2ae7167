"""Published checks: lists of cases that feed the tests and docs/verification.md."""
