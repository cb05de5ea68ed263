"""What the documents are made of besides their text: pictures, reference pages and the page of outside checks."""
