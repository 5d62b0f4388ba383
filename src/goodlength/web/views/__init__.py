"""What pages show, built from results of tasks: plain values for templates and scripts."""
