"""What was really heard corrects what was predicted: reports as evidence, the fit, how far to trust it."""
