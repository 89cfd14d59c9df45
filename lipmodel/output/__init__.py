"""What is told and shown: reports, sentences, pictures, pages, and the products made of them."""
