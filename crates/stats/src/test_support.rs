use crate::Clusters;

#[track_caller]
pub(crate) fn assert_close(found: f64, expected: f64, tolerance: f64) {
    assert!(
        (found - expected).abs() <= tolerance,
        "found {found:e}, expected {expected:e} within {tolerance:e}"
    );
}

#[track_caller]
pub(crate) fn assert_relative(found: f64, expected: f64, tolerance: f64) {
    assert_close(found / expected, 1.0, tolerance);
}

pub(crate) fn clusters_of<const N: usize>(all: &[[i128; N]]) -> Clusters<N> {
    let mut clusters = Clusters::default();
    all.iter().for_each(|&cluster| clusters.add(cluster));
    clusters
}
