"""What comes from outside does no harm: names, paths, code, the network, packages, modes."""
