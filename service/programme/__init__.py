"""The programme's rules: may it be shown, whom to credit, what to pick, what goes on air, and what is said of it."""
