"""States into outcomes and margins; what the model cannot know stays unknown."""
