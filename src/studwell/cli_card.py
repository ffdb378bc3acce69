"""`studwell card`: parse, one call, print."""
