"""Who may do what: accounts, roles, sign-in and sessions."""
