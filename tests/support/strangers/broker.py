"""A broker of another make: amqtt, of the Python Package Index.  python broker.py PORT"""

import asyncio
import sys

from amqtt.broker import Broker  # type: ignore[import-not-found]


async def serve(port: int) -> None:
    """Serve until killed."""
    broker = Broker(
        {
            "listeners": {"default": {"type": "tcp", "bind": f"127.0.0.1:{port}"}},
            "plugins": {"amqtt.plugins.authentication.AnonymousAuthPlugin": {"allow_anonymous": True}},
        }
    )
    await broker.start()
    print("listens", flush=True)
    await asyncio.Event().wait()


asyncio.run(serve(int(sys.argv[1])))
