"""Printed matter: the floor sheet."""
