"""The simulated camera and the invented shoots; run from a checkout, never installed."""
