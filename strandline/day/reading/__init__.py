"""Reading a day's photos: worker processes, what is kept, and passes over the folder."""
