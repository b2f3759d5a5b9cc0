"""Path-loss models, one a file or folder, with equation numbers; what a prediction may stray by."""
