"""A case's dimensions into bodies with named boundaries and the interfaces between them."""
