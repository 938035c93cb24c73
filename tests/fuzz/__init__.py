"""Fuzzing: what is fed to the package, what must hold of it whatever it is fed, and a saved corpus of inputs."""
