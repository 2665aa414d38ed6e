"""The steps from one schema to the next. A step that was released is never changed."""
