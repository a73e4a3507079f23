use crate::image::index;
use crate::tiling::Tiling;
use std::collections::VecDeque;

/// The tiling as it would be without some inks: what is nearest goes on under each.
pub(crate) fn without(tiling: &Tiling, gone: u32) -> Tiling {
    let mut levels = tiling.levels().clone();
    let (w, h) = (levels.width, levels.height);
    let stays = |k: usize| gone >> k & 1 == 0;
    let mut nearest: Vec<Option<u8>> =
        (0..w * h).map(|i| Some(levels.top(i)).filter(|k| stays(*k)).map(|k| k as u8)).collect();
    let mut reached: VecDeque<usize> = (0..w * h).filter(|i| nearest[*i].is_some()).collect();
    while let Some(i) = reached.pop_front() {
        let (x, y) = ((i % w) as isize, (i / w) as isize);
        for (dx, dy) in [(1, 0), (-1, 0), (0, 1), (0, -1)] {
            let j = index(w, h, x + dx, y + dy);
            if nearest[j].is_none() {
                nearest[j] = nearest[i];
                reached.push_back(j);
            }
        }
    }
    for k in (0..levels.inks).filter(|k| !stays(*k)) {
        for (i, heir) in nearest.iter().enumerate() {
            let level = levels.plane(k)[i];
            // Where nothing else prints anywhere, the garment (the first) goes on.
            let heir = heir.map_or(0, usize::from);
            levels.plane_mut(heir)[i] += level;
            levels.plane_mut(k)[i] = -1.0;
        }
    }
    Tiling::new(levels)
}
