"""What runs the work and knows nothing of radio: threads, clusters, compiled loops on disk, progress."""
