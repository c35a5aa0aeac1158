"""What all pages rest on: who may ask, forms, templates, and what a page finds its garage by."""
