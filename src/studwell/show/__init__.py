"""Results as tables, figures and pages."""
