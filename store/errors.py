"""What can be wrong with a database, for those who catch it without opening one."""


class StoreError(Exception):
    """The database cannot be used; the message says why and what to do, in one line."""
