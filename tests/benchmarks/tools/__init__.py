"""The same tops in general-purpose finite-element tools, for `tests.benchmarks.yardstick`."""
