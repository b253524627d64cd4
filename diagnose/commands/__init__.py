"""The commands, one module a group: each calls the library and shows what it returns. Loaded at their first use."""
