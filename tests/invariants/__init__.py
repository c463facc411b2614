"""What must not change when only the way of writing, placing or numbering a part does."""
