"""Random shop histories: what re-planning finds beside a fresh full plan of every setup."""
