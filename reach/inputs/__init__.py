"""What users write, read into records; every wording about bad input is here."""
