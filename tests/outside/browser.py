"""Is the screenshot of a report a page with plots on it? A blank or half-drawn page has few inked rows."""

import sys

from PIL import Image

picture = Image.open(sys.argv[1]).convert("L")
assert picture.width == int(sys.argv[2]), picture.size
small = picture.resize((picture.width, picture.height // 10), Image.Resampling.BOX)
grey = small.tobytes()
rows = [grey[y * small.width : (y + 1) * small.width] for y in range(small.height)]
inked = sum(1 for row in rows if max(row) - min(row) > 25)
share = inked / len(rows)
print(f"browser: {picture.size[0]} px wide, {share:.0%} of {len(rows)} bands inked")
assert share > 0.5, "the page looks empty"
