//! How colours look to people who lack one kind of cone, and how far apart colours then are.

use crate::Theme;
use crate::colour::{Rgb, contrast};
use crate::theme::{Look, MOST_SERIES};
use palette::color_difference::EuclideanDistance;
use palette::white_point::D65;
use palette::{IntoColor, Lab, LinSrgb, Srgb};

/// The kinds of dichromatic vision.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Vision {
    Usual,
    Protanopia,
    Deuteranopia,
    Tritanopia,
}

impl Vision {
    const ALL: [Self; 4] = [Self::Usual, Self::Protanopia, Self::Deuteranopia, Self::Tritanopia];

    /// The matrices for linear RGB at severity 1.0 of G. M. Machado, M. M. Oliveira and L. A. F.
    /// Fernandes, "A Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE
    /// Transactions on Visualization and Computer Graphics 15(6), 2009, 1291–1298 (values from
    /// memory).
    const fn matrix(self) -> [[f64; 3]; 3] {
        match self {
            Self::Usual => [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
            Self::Protanopia => [
                [0.152_286, 1.052_583, -0.204_868],
                [0.114_503, 0.786_281, 0.099_216],
                [-0.003_882, -0.048_116, 1.051_998],
            ],
            Self::Deuteranopia => [
                [0.367_322, 0.860_646, -0.227_968],
                [0.280_085, 0.672_501, 0.047_413],
                [-0.011_820, 0.042_940, 0.968_881],
            ],
            Self::Tritanopia => [
                [1.255_528, -0.076_749, -0.178_779],
                [-0.078_411, 0.930_809, 0.147_602],
                [0.004_733, 0.691_367, 0.303_900],
            ],
        }
    }

    /// Returns L*, a* and b* (CIE 1976, white point D65) of what a colour is seen as.
    fn see(self, (red, green, blue): Rgb) -> Lab<D65, f64> {
        let linear: LinSrgb<f64> = Srgb::new(red, green, blue).into_linear();
        let linear: [f64; 3] = linear.into();
        let product = |row: [f64; 3]| row.iter().zip(linear).map(|(one, other)| one * other).sum();
        let seen: [f64; 3] = self.matrix().map(|row| f64::clamp(product(row), 0.0, 1.0));
        LinSrgb::from(seen).into_color()
    }
}

/// Returns ΔE*ab of 1976; about 2.3 can just be noticed (common practice, no source).
fn distance(vision: Vision, one: Rgb, other: Rgb) -> f64 {
    vision.see(one).distance(vision.see(other))
}

#[test]
fn the_model_keeps_greys_and_merges_what_it_should() {
    // A row that does not sum to 1 would tint white.
    for vision in Vision::ALL {
        for row in vision.matrix() {
            assert!((row.iter().sum::<f64>() - 1.0).abs() < 3e-6, "{vision:?}");
        }
        assert!(distance(vision, (128, 128, 128), (129, 129, 129)) < 0.6);
    }
    // Red and green of like lightness: far apart to most, close to those who lack a cone.
    let (red, green) = ((0xB8, 0x50, 0x20), (0x6E, 0x7A, 0x20));
    assert!(distance(Vision::Usual, red, green) > 50.0);
    assert!(distance(Vision::Deuteranopia, red, green) < 20.0);
}

/// Colours this far apart are told apart in small marks side by side.
const FAR: f64 = 15.0;

#[test]
fn series_stay_apart_for_every_kind_of_vision() {
    let mut close = Vec::new();
    for &theme in Theme::ALL {
        let look = Look::of(theme);
        for vision in Vision::ALL {
            for one in 0..MOST_SERIES {
                for other in 0..one {
                    let (one, other) = (look.series(one), look.series(other));
                    // All marks differ by shape and lines by dashes; here by colour alone.
                    assert!(one.marker != other.marker && one.dash != other.dash);
                    let apart = distance(vision, one.colour, other.colour);
                    if apart < FAR {
                        close.push((theme, vision, one.colour, other.colour, apart));
                    }
                }
            }
        }
    }
    assert!(close.is_empty(), "{close:#?}");
}

#[test]
fn scales_keep_their_order_for_every_kind_of_vision() {
    for &theme in Theme::ALL {
        let look = Look::of(theme);
        for vision in Vision::ALL {
            let light = |step: usize| vision.see(look.shade(step as f64 / 20.0)).l;
            let steps: Vec<f64> = (1..=20).map(|step| light(step) - light(step - 1)).collect();
            let rising = steps[0] > 0.0;
            // Twentieths of the scale are ordered by lightness alone.
            assert!(
                steps.iter().all(|step| (*step > 0.0) == rising && step.abs() > 1.0),
                "{theme:?} {vision:?}: {steps:?}"
            );
        }
    }
}

#[test]
fn both_sides_of_a_split_stay_apart_for_every_kind_of_vision() {
    for theme in [Theme::Light, Theme::Dark] {
        let look = Look::of(theme);
        for vision in Vision::ALL {
            let apart = distance(vision, look.naked_line, look.hidden_line);
            assert!(apart > FAR, "{theme:?} {vision:?}: {apart}");
        }
    }
    // In print both are black: dashes and the fill tell them apart.
    let print = Look::of(Theme::Print);
    assert_eq!(print.naked_line, print.hidden_line);
}

#[test]
fn shades_have_no_hue_that_a_side_or_a_series_has() {
    for &theme in Theme::ALL {
        let look = Look::of(theme);
        for step in 0..=20 {
            let (red, green, blue) = look.shade(f64::from(step) / 20.0);
            assert!(red == green && green == blue, "{theme:?} {step}");
        }
        // Graphics 3:1: WCAG 2.x, success criterion 1.4.11.
        assert!(contrast(look.shade(0.0), look.shade(1.0)) > 3.0, "{theme:?}");
        // What got nowhere stands apart from what stands for no side.
        for vision in Vision::ALL {
            assert!(distance(vision, look.zero, look.shade(0.5)) > FAR, "{theme:?} {vision:?}");
        }
        // What was never seen is no shade of the scale.
        assert!(distance(Vision::Usual, look.zero, look.shade(0.0)) > 3.0, "{theme:?}");
    }
}
