"""From files to the model, all problems at once."""
