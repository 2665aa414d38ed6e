"""Who may come in when the app is open to the shop network: people, passwords, logins, tokens, and the audit trail."""
