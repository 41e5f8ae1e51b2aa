"""The retention model of a class: memory laws, what they are fitted to, what they predict."""
