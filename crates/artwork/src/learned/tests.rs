use super::*;
use crate::LearnedModel;

const AS_IT_IS: Look = Look { turns: 0, exchange: false };

struct Vector {
    share: Plane,
    grid: JpegGrid,
    want: Plane,
}

/// Reads a stored input and output of the training framework (see `train/README.md`).
fn vector(bytes: &[u8]) -> Vector {
    let word = |i: usize| u32::from_le_bytes(bytes[4 * i..4 * i + 4].try_into().unwrap());
    let plane = |from: usize, width: usize, height: usize| Plane {
        width,
        height,
        data: (0..width * height).map(|i| f32::from_bits(word(from + i))).collect(),
    };
    let (h, w) = (word(0) as usize, word(1) as usize);
    Vector {
        share: plane(5, w, h),
        grid: (word(2) == 1).then(|| [word(4) as usize, word(3) as usize]),
        want: plane(5 + w * h, 2 * w, 2 * h),
    }
}

macro_rules! vectors {
    ($($name:literal),*) => {
        [$(($name, &include_bytes!(concat!("../../train/vectors/", $name, ".vec"))[..])),*]
    };
}

/// PyTorch's output, in double precision from the same weights.
#[test]
fn the_training_framework_agrees() {
    let model = Model::numbered(LearnedModel::NEWEST).unwrap();
    for (name, bytes) in
        vectors!["clean", "jpeg", "jpeg-shifted", "noise", "onebit", "pixel", "small"]
    {
        let v = vector(bytes);
        let got = looked(model, &v.share, v.grid, AS_IT_IS, &Progress::none()).unwrap();
        let (mut near, mut flipped) = (0, 0);
        for (got, want) in got.data.iter().zip(&v.want.data) {
            near += usize::from((got - want).abs() < 1e-3);
            // Away from edges the network is not asked: the sign must still be the same.
            flipped += usize::from((*got > 0.0) != (*want > 0.0) && want.abs() > 1e-3);
        }
        assert_eq!(flipped, 0, "{name}");
        let all = v.want.data.len();
        assert!(near * 10 >= all * 3, "{name}: {near} of {all} agree");
    }
}

#[test]
fn threads_change_nothing() {
    let model = Model::numbered(LearnedModel::NEWEST).unwrap();
    let (width, height) = (150, 40);
    let share =
        Plane {
            width,
            height,
            data: (0..width * height)
                .map(|i| {
                    if ((i % width) / 9 + (i / width) / 14).is_multiple_of(2) { 0.94 } else { 0.07 }
                })
                .collect(),
        };
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let look = Look { turns: 1, exchange: true };
        pool.install(|| looked(model, &share, None, look, &Progress::none()).unwrap())
    };
    assert_eq!(run(1), run(2));
}

#[test]
fn a_quarter_turn_goes_anticlockwise() {
    let plane = Plane { width: 3, height: 2, data: vec![1.0, 2.0, 3.0, 4.0, 5.0, 6.0] };
    assert_eq!(turned(&plane).data, [3.0, 6.0, 2.0, 5.0, 1.0, 4.0]);
}
