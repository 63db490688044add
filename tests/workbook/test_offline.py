"""What is taken off the network reaches this computer alone, and all that it asks for is known.

So every notebook is run by nbval (tests/helpers/notebooks.py), and JupyterLab wherever a test
starts it.
"""

import subprocess
import sys

import pytest

from tests.helpers.offline import asked_for, off_the_network

REACHING_OUT = {
    "connects": "import socket; socket.create_connection(('192.0.2.1', 80), 1)",
    "looks up": "import socket; socket.getaddrinfo('example.org', 443)",
    "fetches": "import urllib.request; urllib.request.urlopen('https://example.org', timeout=1)",
    "sends": "import socket; socket.socket(type=socket.SOCK_DGRAM).sendto(b'x', ('192.0.2.1', 9))",
}


@pytest.mark.parametrize("program", REACHING_OUT.values(), ids=REACHING_OUT)
def test_a_planted_request_is_refused_and_written_down(tmp_path, program):
    asked = tmp_path / "asked"
    command = [sys.executable, "-c", program]
    answer = subprocess.run(
        command, env=off_the_network(asked), capture_output=True, text=True, check=False
    )
    assert "the network is off" in answer.stderr
    assert len(asked_for(asked)) == 1


def test_this_computer_can_be_reached(tmp_path):
    asked = tmp_path / "asked"
    program = (
        "import socket; s = socket.create_server(('127.0.0.1', 0)); "
        "socket.create_connection(('localhost', s.getsockname()[1]), 1); print('reached')"
    )
    environment = off_the_network(asked)
    command = [sys.executable, "-c", program]
    assert subprocess.check_output(command, env=environment, text=True) == "reached\n"
    assert asked_for(asked) == []
