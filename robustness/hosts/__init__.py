"""Several hosts on one machine, with network addresses of their own, and batches spread over them."""
