"""`studwell page`: parse, one call, print."""
