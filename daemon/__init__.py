"""The daemon: judges and decides. It never touches a pin; `daemon/README.md` says where to start."""
