"""What a sum of symbols, noise and jitter is distributed like, far down its tails."""
