"""Photos: how they are kept, opened and read, in processes of their own."""
