"""The shelf: finding jaw sets, one set with its history, photos and tags to scan."""
