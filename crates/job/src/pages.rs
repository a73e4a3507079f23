use crate::JobError;
use film::{FilmSheet, PxRect};
use measure::{Resolution, Size};
use sheets::{Plan, Stock};

/// The planned sheets as pages: whole pixels of the print's frame, cut at the edge of `film`.
pub(crate) fn pages(
    plan: &Plan,
    stocks: &[Stock],
    resolution: Resolution,
    film: PxRect,
) -> Result<Vec<FilmSheet>, JobError> {
    let mut out = Vec::new();
    for sheet in &plan.sheets {
        let (rect, stock) = (sheet.placed.rect, &stocks[sheet.placed.stock]);
        let px = |v| resolution.whole_px(v);
        let x = px(rect.left()).max(film.x);
        let y = px(rect.top()).max(film.y);
        let right = px(rect.right()).min(film.right());
        let bottom = px(rect.bottom()).min(film.bottom());
        if x >= right || y >= bottom {
            continue;
        }
        let image = PxRect::new(x, y, right - x, bottom - y);
        let page = page_size(stock, image, sheet.placed.turned, resolution);
        let m = stock.margins;
        let (left, top) = (resolution.px(m.left).ceil() as i64, resolution.px(m.top).ceil() as i64);
        let printable = PxRect::new(
            left,
            top,
            resolution.px(page.width - m.right).floor() as i64 - left,
            resolution.px(page.height - m.bottom).floor() as i64 - top,
        );
        out.push(FilmSheet {
            name: sheet.name.clone(),
            image,
            turned: sheet.placed.turned,
            page,
            printable,
            // In the corner, so that what room there is lies together, for name and ruler.
            image_x: printable.x,
            image_y: printable.y,
        });
    }
    Ok(out)
}

/// A sheet's page is its stock; a roll is cut to the image and its margins.
fn page_size(stock: &Stock, image: PxRect, turned: bool, resolution: Resolution) -> Size {
    if !stock.roll {
        return stock.size;
    }
    let long = if turned { image.width } else { image.height };
    let height = resolution.length(long as f64) + stock.margins.top + stock.margins.bottom;
    Size::new(stock.size.width, height)
}
