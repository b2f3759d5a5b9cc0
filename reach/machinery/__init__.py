"""What runs the work and knows nothing of radio: threads, processes, compiled loops on disk, progress."""
