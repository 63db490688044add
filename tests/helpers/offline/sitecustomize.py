"""On PYTHONPATH this takes a Python off the network: only this computer can be reached.

Each attempt to reach more is refused, and written into the file that PLANNER_ASKED names.
"""

import os
import socket
import sys

REACHES = {"socket.connect": 1, "socket.sendto": 1, "socket.sendmsg": 1}  # where its address is
LOOKS_UP = {"socket.getaddrinfo": 0, "socket.gethostbyname": 0}
OF_THIS_COMPUTER = {None, "", "localhost", "::1", "0.0.0.0", "::", socket.gethostname()}


def refuse(event, arguments):
    if event in REACHES:
        address = arguments[REACHES[event]]
        # A socket in the file system has a path for an address.
        host = address[0] if isinstance(address, tuple) else None
    elif event in LOOKS_UP:
        host = arguments[LOOKS_UP[event]]
    else:
        return
    if isinstance(host, bytes):
        host = host.decode()
    if host in OF_THIS_COMPUTER or host.startswith("127."):
        return
    with open(os.environ["PLANNER_ASKED"], "a", encoding="utf-8") as asked:
        asked.write(f"{event} {host} by {' '.join(sys.argv[:2])}\n")
    raise OSError(f"the network is off: {host} cannot be reached")


sys.addaudithook(refuse)
