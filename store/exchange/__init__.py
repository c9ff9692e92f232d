"""Files of other programs, read to typed values: bytes in, no database."""
