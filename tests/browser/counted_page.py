"""Serve a live page and tell on request what the server holds: run by tests as `python counted_page.py CASE`.

Each line "count" on standard input is answered by one JSON line: open clients and tabs, tasks of the event loop, memory.
"""

import asyncio
import gc
import json
import sys
import threading
from pathlib import Path

from studwell import api


def main() -> None:
    server = api.page(Path(sys.argv[1]), port=0, refinement=0.3)
    from nicegui import Client, core

    from studwell.live.page_tab import Tab

    def held():
        gc.collect()
        tabs = sum(isinstance(each, Tab) for each in gc.get_objects())
        pages = Path("/proc/self/statm").read_text().split()[1]
        names = sorted(task.get_name() for task in asyncio.all_tasks(core.loop))
        return {"clients": len(Client.instances), "tabs": tabs, "tasks": names, "memory": 4096 * int(pages)}

    async def counted():
        return held()

    def listen():
        try:
            for line in sys.stdin:
                if line.strip() == "count":
                    found = asyncio.run_coroutine_threadsafe(counted(), core.loop).result(30)
                    print(json.dumps(found), flush=True)
        finally:
            server.stop()  # what waits for a line then reads the end of the file

    print(server.url, flush=True)
    server.warm()
    threading.Thread(target=listen, daemon=True).start()
    server.run()


if __name__ == "__main__":
    main()
