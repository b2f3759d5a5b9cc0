"""The installed engine against the cases kept in `cases/`, whose README says where they come from."""
