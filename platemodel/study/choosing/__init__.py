"""Which bar: targets, search, sweeps, the live panel's answers, doubts from the wood."""
