"""Training family "layered": faces warped by homographies, light painted in layers, people as silhouettes."""
