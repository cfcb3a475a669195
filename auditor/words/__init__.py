"""Floor 1: every sentence that a person reads, from codes and figures."""
