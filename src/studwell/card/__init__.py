"""card/: the job card for the bench, one record shown as HTML and as PDF."""
