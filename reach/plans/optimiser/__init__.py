"""The mixed-integer model, solved stage after stage within a time."""
