use proptest::prelude::*;

use super::*;
use crate::student::Student;
use crate::test_support::{assert_close, assert_relative, clusters_of};

const MILLION: i128 = 1_000_000;

fn level() -> Level {
    Level::default()
}

fn standard_error(estimate: Estimate) -> f64 {
    estimate.standard_error().unwrap()
}

/// The standard error of so many clusters drawn without replacement from a population of so many.
fn drawn_from(population: f64, clusters: f64, standard_error: f64) -> f64 {
    standard_error * (1.0 - clusters / population).sqrt()
}

mod published {
    use super::*;

    fn mean<const K: usize>(y: [i128; K], x: [i128; K]) -> Estimate {
        let pairs: Vec<[i128; 2]> = y.into_iter().zip(x).map(|(y, x)| [y, x]).collect();
        clusters_of(&pairs).mean(level()).unwrap()
    }

    /// Scores of algebra classes, 12 of 187: S. L. Lohr, *Sampling: Design and Analysis*, cluster
    /// sampling with unequal sizes (data set `algebra`): 62.57 and 1.49.
    #[test]
    fn lohr_algebra_classes() {
        let size = [20, 26, 24, 34, 26, 28, 19, 32, 17, 21, 26, 26];
        let score = [1230, 1670, 1402, 1972, 1508, 1816, 1048, 2308, 989, 1398, 1621, 1746];
        let found = mean(score, size);
        let finite = drawn_from(187.0, 12.0, standard_error(found));
        assert_close(found.value, 62.57, 0.005);
        assert_close(finite, 1.49, 0.005);
        assert_close(found.value, 62.568_561_872_9, 5e-11);
        assert_close(finite, 1.491_577_857, 5e-10);
        assert_close(standard_error(found), 1.541_869_815, 5e-10);
    }

    /// Grade points of dorm suites, 5 of 100: S. L. Lohr, *Sampling: Design and Analysis* (data set
    /// `gpa`): 2.826 and 0.164. In hundredths, suites of four.
    #[test]
    fn lohr_dorm_suites() {
        let found = mean([1216, 1136, 896, 1296, 1108], [4; 5]);
        assert_close(found.value, 282.6, 1e-12);
        assert_close(drawn_from(100.0, 5.0, standard_error(found)), 16.366, 0.0005);
    }

    /// School districts, 15 of 757: printed output of the tests of the R package `survey`
    /// (`svymean(~api00, dclus1)`).
    #[test]
    fn survey_package_api_mean() {
        let schools = [13, 34, 4, 13, 16, 2, 1, 4, 12, 21, 9, 11, 37, 2, 4];
        let api00 = [
            9372, 22_508, 2077, 8593, 11_369, 1116, 551, 1888, 9111, 13_761, 6386, 7359, 20_394,
            905, 2493,
        ];
        let found = mean(api00, schools);
        assert_close(found.value, 644.17, 0.005);
        let finite = drawn_from(757.0, 15.0, standard_error(found));
        assert_close(finite, 23.542, 0.0005);
        assert_close(finite, 23.542_240_693_8, 5e-10);
        assert_close(standard_error(found), 23.779_010_7, 5e-7);
    }

    const ENROLLED: [i128; 15] = [
        6777, 15_038, 1668, 6958, 9025, 683, 274, 1436, 7375, 14_968, 2180, 6081, 25_814, 680, 1641,
    ];
    const TESTED: [i128; 15] = [
        6047, 12_618, 1461, 5935, 7573, 610, 199, 1184, 6431, 12_292, 1877, 4895, 22_452, 532, 1373,
    ];

    /// The same districts: vignette of the R package `survey`,
    /// `svyratio(~api.stu, ~enroll, dclus1)`.
    #[test]
    fn survey_package_api_ratio() {
        let found = mean(TESTED, ENROLLED);
        assert_close(found.value, 0.849_708_741_7, 5e-11);
        let finite = drawn_from(757.0, 15.0, standard_error(found));
        assert_close(finite, 0.008_386_297_2, 5e-11);
        assert_close(standard_error(found), 0.008_470_640_2, 5e-11);
    }

    /// 49 of 196 large US cities, 1920 and 1930, from their sums: W. G. Cochran, *Sampling
    /// Techniques*, 3rd ed., 1977, §6.2 (data set `bigcity`): 1.239, and 28,397 for all.
    #[test]
    fn cochran_large_cities() {
        let cities = Clusters::of_sums(49, [6262, 5054], [1_527_882, 1_251_630, 1_044_504]);
        let found = cities.mean(level()).unwrap();
        assert_close(found.value, 1.239_018_599_1, 5e-11);
        assert_close(drawn_from(196.0, 49.0, standard_error(found)), 0.029_879_1, 5e-8);
        assert_close(found.value * 22_919.0, 28_397.07, 0.005);
    }

    /// Ten cities: A. C. Davison & D. V. Hinkley, *Bootstrap Methods and Their Application*, 1997,
    /// ex. 1.2 and ch. 2 (data set `city`). Their nonparametric delta variance has divisor n where
    /// the standard error here has n − 1.
    #[test]
    fn davison_hinkley_cities() {
        let u = [138, 93, 61, 179, 48, 37, 29, 23, 30, 2];
        let x = [143, 104, 69, 260, 75, 63, 50, 48, 111, 50];
        let found = mean(x, u);
        assert_eq!(found.value, 1.520_312_5);
        assert_close(standard_error(found).powi(2) * 0.9, 0.032_487_733_7, 5e-11);
    }

    /// Mouse survival: B. Efron & R. Tibshirani, *An Introduction to the Bootstrap*, 1993, Tables
    /// 2.1 and 2.2: means with the textbook standard error.
    #[test]
    fn efron_tibshirani_mouse_survival() {
        let treatment = mean([94, 197, 16, 38, 99, 141, 23], [1; 7]);
        let control = mean([52, 104, 146, 10, 51, 30, 40, 27, 46], [1; 9]);
        assert_close(treatment.value, 86.857, 0.0005);
        assert_close(control.value, 56.222, 0.0005);
        assert_close(standard_error(treatment), 25.2355, 0.000_05);
        assert_close(standard_error(control), 14.1586, 0.000_05);
    }
}

mod shares {
    use super::*;

    /// Of 1,000 families, all with the property, one weighs half of all: they are worth four.
    #[test]
    fn all_or_none_is_worth_kishs_size() {
        let mut all = Clusters::default();
        all.add([999, 999]);
        all.add_times([1, 1], 999);
        let found = all.share(level()).unwrap();
        // (1998)² / (999² + 999) = 3.996: three trials.
        let expected = Share::new(3, 3).unwrap().clopper_pearson(level());
        assert_eq!((found.value, found.method), (1.0, Method::ClopperPearson));
        assert_eq!(found.interval, expected);
        assert_close(found.interval.low, 0.025f64.cbrt(), 1e-12);

        let mut none = Clusters::default();
        none.add([0, 999]);
        none.add_times([0, 1], 999);
        let found = none.share(level()).unwrap();
        assert_close(found.interval.high, 1.0 - 0.025f64.cbrt(), 1e-12);
    }

    #[test]
    fn shares_by_weight_are_worth_their_clusters_by_hand() {
        // Ten hits and 30 misses of weight 1, one hit of weight 10: (50)² / (40 + 100) = 17.86 trials, 40 %
        // of them hits. (20)² / (10 + 100) = 3.6 effective hits: the lower end is not told.
        let mut few = Clusters::default();
        few.add_times([1, 1], 10);
        few.add_times([0, 1], 30);
        few.add([10, 10]);
        let found = few.share_by_weight(level()).unwrap();
        assert_eq!((found.value, found.method), (0.4, Method::ClopperPearsonWorth));
        // A standard error from so many may be 1.4 / √17.86 too small.
        let worth = 2500.0 / 140.0 * (1.0 - 1.4 / (2500.0f64 / 140.0).sqrt()).powi(2);
        let trials = Trials { hits: 0.4 * worth, misses: 0.6 * worth };
        assert_eq!(found.interval.low, 0.0);
        assert_close(found.interval.high, trials.exact_interval(0.025).high, 1e-12);
        assert_close(found.p_value_below(found.interval.high).unwrap(), 0.025, 1e-9);

        // 600 hits and 400 misses of weight 1, 240 and 160 of weight 2: (1080)² / (600 + 4·240) = 747.7
        // effective hits and (720)² / (400 + 4·160) = 498.5 misses. On the scale of log odds, whose
        // standard error is that of the share by p·(1 − p) = 0.24.
        let mut many = Clusters::default();
        for (weight, times) in [(1, 200), (2, 80)] {
            many.add_times([weight, weight], 3 * times);
            many.add_times([0, weight], 2 * times);
        }
        let [found, linearised] = [many.share_by_weight(level()), many.share(level())];
        let (found, linearised) = (found.unwrap(), linearised.unwrap());
        let doubt = 1.0 / (1.0 - 1.4 / (720.0f64 * 720.0 / 1040.0).sqrt());
        let error = linearised.standard_error().unwrap() * doubt / 0.24;
        assert_eq!((found.value, found.method), (0.6, Method::LinearisedLogOdds));
        assert_close(found.standard_error().unwrap(), error, 1e-15);
        let odds = |share: f64| (share / (1.0 - share)).ln() - 1.5f64.ln();
        let reach = Student::new(1399).upper_quantile(0.025) * error;
        assert_close(odds(found.interval.low), -reach, 1e-12);
        assert_close(odds(found.interval.high), reach, 1e-12);
        assert_close(found.p_value_below(found.interval.high).unwrap(), 0.025, 1e-9);
        assert_close(found.p_value_above(found.interval.low).unwrap(), 0.025, 1e-9);
        assert_eq!(found.p_value_above(1.0), Ok(1.0));

        // Units that are alike are trials.
        let alike = clusters_of(&[[1, 1], [0, 1], [0, 1]]);
        assert_eq!(alike.share_by_weight(level()), alike.share(level()));
    }

    #[test]
    fn families_of_unequal_weight_are_a_ratio_that_ends_at_0_and_1() {
        let found = clusters_of(&[[1, 9], [9, 9], [8, 8], [7, 7]]).share(level()).unwrap();
        assert_eq!((found.value, found.method), (25.0 / 33.0, Method::LinearisedRatio));
        assert_eq!(found.interval.high, 1.0);
        let rare = clusters_of(&[[1, 9], [0, 9], [0, 8], [0, 7]]).share(level()).unwrap();
        assert_eq!(rare.interval.low, 0.0);
    }

    #[test]
    fn shares_without_an_answer_are_refused() {
        let share = |clusters: &[[i128; 2]]| clusters_of(clusters).share(level());
        assert_eq!(share(&[]), Err(StatsError::NoTrials));
        assert_eq!(share(&[[0, 0]]), Err(StatsError::NoTrials));
        let beyond = Err(StatsError::HitsExceedTrials { hits: 3, trials: 2 });
        assert_eq!(share(&[[3, 2]]), beyond);
        assert!(share(&[[-1, 2], [0, 3]]).is_err());
        assert_eq!(share(&[[1, 2], [2, 4]]), Err(StatsError::NoSpread));
        assert_eq!(share(&[[1, 2]]), Err(StatsError::TooFewClusters(1)));
    }

    /// Hits of the whole size and a size that varies, or hits of half a size: no plain share.
    #[test]
    fn only_whole_hits_of_equal_clusters_are_trials() {
        let method = |clusters: &[[i128; 2]]| clusters_of(clusters).share(level()).unwrap().method;
        assert_eq!(method(&[[4, 4], [0, 4], [4, 4]]), Method::ClopperPearson);
        assert_eq!(method(&[[4, 4], [0, 4], [2, 4]]), Method::LinearisedRatio);
        assert_eq!(method(&[[5, 5], [0, 3], [4, 4]]), Method::LinearisedRatio);
    }

    proptest! {
        /// To the last bit, whatever weight all have in common.
        #[test]
        fn equal_weights_give_the_plain_share(
            (hits, trials) in (1u64..3000).prop_flat_map(|n| (0..=n, Just(n))),
            weight in 1i128..1_000_000_000_000_000,
        ) {
            let mut clusters = Clusters::default();
            clusters.add_times([weight, weight], hits);
            clusters.add_times([0, weight], trials - hits);
            let plain = Share::new(hits, trials).unwrap().estimate(level());
            prop_assert_eq!(clusters.share(level()), Ok(plain));
        }

        #[test]
        fn intervals_lie_between_0_and_1_and_hold_the_share(
            all in prop::collection::vec((0i128..=9, 1i128..1000), 2..30),
        ) {
            let all: Vec<_> = all.iter().map(|&(ninths, w)| [ninths * w, 9 * w]).collect();
            let Ok(found) = clusters_of(&all).share(level()) else { return Ok(()) };
            let Interval { low, high } = found.interval;
            prop_assert!(0.0 <= low && low <= found.value);
            prop_assert!(found.value <= high && high <= 1.0);
            prop_assert!(low < high);
        }
    }
}

mod ratios {
    use super::*;

    /// A mean above 1 keeps its upper limit, and one near 0 its lower one: only shares end there.
    #[test]
    fn means_are_unbounded() {
        let found = clusters_of(&[[26, 1], [27, 1], [26, 1], [28, 1]]).mean(level()).unwrap();
        assert_eq!(found.value, 26.75);
        assert!(found.interval.low < 26.0 && found.interval.high > 27.5);
        let found = clusters_of(&[[-5, 1], [6, 1], [3, 2]]).mean(level()).unwrap();
        assert!(found.interval.low < 0.0 && found.interval.high > 1.0);
    }

    /// 400 clusters of weight 1 and 3 by turns are worth 800²/2000 = 320; 320²/800 = 128.
    #[test]
    fn means_by_weight_are_less_sure() {
        let by_turns: Vec<[i128; 2]> =
            (0..400).map(|i| [(i % 7) * (1 + 2 * (i % 2)), 1 + 2 * (i % 2)]).collect();
        let clusters = clusters_of(&by_turns);
        let [plain, by_weight] =
            [clusters.mean(level()), clusters.mean_by_weight(level())].map(Result::unwrap);
        let doubt = 1.0 / (1.0 - 1.4 / 128.0f64.sqrt());
        assert_relative(standard_error(by_weight), standard_error(plain) * doubt, 1e-12);
        let alike = clusters_of(&[[3, 1], [4, 1], [8, 1]]);
        assert_eq!(alike.mean_by_weight(level()), alike.mean(level()));
        // Worth 3.2 of 4: however few there are, ten times at most.
        let few = clusters_of(&by_turns[..4]);
        let [plain, by_weight] =
            [few.mean(level()), few.mean_by_weight(level())].map(Result::unwrap);
        assert_relative(standard_error(by_weight), standard_error(plain) * 10.0, 1e-12);
    }

    #[test]
    fn ratios_of_what_is_never_negative_end_at_0() {
        let clusters = clusters_of(&[[900, 3], [0, 5], [1, 4]]);
        let (ratio, mean) = (clusters.ratio(level()).unwrap(), clusters.mean(level()).unwrap());
        assert!(mean.interval.low < 0.0);
        assert_eq!(ratio.interval, Interval { low: 0.0, ..mean.interval });
        assert!(ratio.interval.high > 1.0);
        let negative = clusters_of(&[[-3, 1], [1, 1]]);
        assert_eq!(negative.ratio(level()), Err(StatsError::Sum(-2)));
        let nothing = clusters_of(&[[0, 3], [0, 5]]);
        assert_eq!(nothing.ratio(level()), Err(StatsError::NoSpread));
        assert_eq!(clusters.quotient(), Ok(901.0 / 12.0));
    }

    #[test]
    fn input_without_a_ratio_is_refused() {
        let mean = |clusters: &[[i128; 2]]| clusters_of(clusters).mean(level());
        assert_eq!(mean(&[]), Err(StatsError::TooFewClusters(0)));
        assert_eq!(mean(&[[1, 2]]), Err(StatsError::TooFewClusters(1)));
        assert_eq!(mean(&[[1, 0], [2, 0]]), Err(StatsError::NoSize));
        for alike in [[[0, 3], [0, 5], [0, 900]], [[3, 7], [6, 14], [900, 2100]]] {
            assert_eq!(mean(&alike), Err(StatsError::NoSpread));
            assert!(clusters_of(&alike).quotient().is_ok());
        }
        assert_eq!(clusters_of(&[[1, 0]]).quotient(), Err(StatsError::NoSize));
    }

    #[test]
    fn too_little_is_no_answer_and_too_much_an_error() {
        for few in [&[][..], &[[1, 2]], &[[1, 2], [2, 4]], &[[1, 0], [2, 0]]] {
            assert_eq!(Estimate::if_known(clusters_of(few).ratio(level())), Ok(None));
        }
        let many = clusters_of(&[[i128::MAX, 1], [i128::MAX, 1]]);
        assert_eq!(Estimate::if_known(many.ratio(level())), Err(StatsError::Overflow));
        let enough = clusters_of(&[[1, 2], [2, 3]]).ratio(level());
        assert_eq!(Estimate::if_known(enough.clone()), enough.map(Some));
    }

    /// t with 11 degrees of freedom: 2.201 at 95 %, as in any table.
    #[test]
    fn interval_and_p_values_belong_together() {
        let clusters: Vec<[i128; 2]> = (0..12).map(|i| [3 * i % 7, 2 + i % 3]).collect();
        let found = clusters_of(&clusters).mean(level()).unwrap();
        let Interval { low, high } = found.interval;
        assert_close(high, found.value + standard_error(found) * 2.201, 0.0005);
        assert_close(found.p_value_below(high).unwrap(), 0.025, 1e-9);
        assert_close(found.p_value_above(low).unwrap(), 0.025, 1e-9);
        assert_close(found.p_value(low).unwrap(), 0.05, 2e-9);
        assert_close(found.p_value_above(found.value).unwrap(), 0.5, 1e-12);
        assert_close(found.p_value(found.value).unwrap(), 1.0, 1e-12);
        let [below, above] = [found.p_value_below(1.1), found.p_value_above(1.1)];
        assert_close(below.unwrap() + above.unwrap(), 1.0, 1e-12);
        assert!(found.p_value_below(f64::NAN).is_err());
        assert!(found.p_value_above(f64::INFINITY).is_err());
    }

    #[test]
    fn other_levels_give_other_intervals() {
        let clusters = clusters_of(&[[3, 2], [5, 2], [8, 3], [1, 1]]);
        let [narrow, wide] =
            [80.0, 99.0].map(|percent| clusters.mean(Level::percent(percent).unwrap()).unwrap());
        assert!(narrow.interval.width() < wide.interval.width());
        assert_eq!(wide.level.to_string(), "99 %");
        assert_close(wide.p_value_below(wide.interval.high).unwrap(), 0.005, 1e-9);
    }

    /// A rate with clusters of one place is a share: the standard error is Wald's up to n − 1.
    #[test]
    fn clusters_of_one_place_are_a_share() {
        let clusters: Vec<_> = (0..200).map(|i| [i128::from(i < 30), 1]).collect();
        let found = clusters_of(&clusters).ratio(level()).unwrap();
        let share = Share::new(30, 200).unwrap().value();
        assert_relative(found.value, share, 1e-14);
        assert_relative(standard_error(found), (share * (1.0 - share) / 199.0).sqrt(), 1e-12);
    }

    /// (1 + 2 + 3)² / (1 + 4 + 9).
    #[test]
    fn unequal_sizes_are_worth_fewer_clusters() {
        let worth = |sizes: &[i128]| {
            let clusters: Vec<_> = sizes.iter().map(|&size| [0, size]).collect();
            clusters_of(&clusters).effective_size()
        };
        assert_close(worth(&[1, 2, 3]).unwrap(), 36.0 / 14.0, 1e-14);
        assert_eq!(worth(&[7; 40]), Ok(40.0));
        assert_eq!(worth(&[1_000_000_000_000_000; 40]), Ok(40.0));
        assert_eq!(worth(&[5, 5, 0, 0]), Ok(2.0));
        assert_eq!(worth(&[0]), Err(StatsError::NoSize));
        assert_eq!(worth(&[]), Err(StatsError::NoSize));
    }

    fn clusters() -> impl Strategy<Value = Vec<[i128; 2]>> {
        prop::collection::vec([-1000i128..1000, 1i128..1000], 2..30)
    }

    /// The sums that plain clusters had before weights came into them, and the formula over them.
    fn of_plain_sums(all: &[[i128; 2]]) -> (f64, f64) {
        let sum =
            |f: fn(i128, i128) -> i128| all.iter().map(|&[y, x]| f(y, x)).sum::<i128>() as f64;
        let (y, x) = (sum(|y, _| y), sum(|_, x| x));
        let ratio = y / x;
        let yy = sum(|y, _| y * y);
        let xy = ratio * sum(|y, x| y * x);
        let xx = ratio * ratio * sum(|_, x| x * x);
        let count = all.len() as f64;
        let squares = (yy - 2.0 * xy + xx).max(0.0);
        (ratio, (squares * (count / (count - 1.0))).sqrt() / x)
    }

    proptest! {
        /// Against the definition: residuals one by one.
        #[test]
        fn standard_error_is_that_of_the_residuals(all in clusters()) {
            let Ok(found) = clusters_of(&all).mean(level()) else { return Ok(()) };
            let n = all.len() as f64;
            let size: f64 = all.iter().map(|&[_, x]| x as f64).sum();
            let squares: f64 =
                all.iter().map(|&[y, x]| (y as f64 - found.value * x as f64).powi(2)).sum();
            let expected = (squares * n / (n - 1.0)).sqrt() / size;
            prop_assert!((standard_error(found) - expected).abs() <= 1e-6 * expected.max(1e-3));
        }

        /// To the last bit, also where each cluster counts a million times.
        #[test]
        fn whole_weights_of_one_give_the_plain_ratio(all in clusters()) {
            let millions: Vec<_> = all.iter().map(|c| c.map(|q| q * MILLION)).collect();
            let (plain, weighed) = (clusters_of(&all), clusters_of(&millions));
            prop_assert_eq!(plain.mean(level()), weighed.mean(level()));
            prop_assert_eq!(plain.effective_size(), weighed.effective_size());
            if let (Ok(found), true) = (plain.mean(level()), plain.reduced() == Ok(plain)) {
                prop_assert_eq!((found.value, standard_error(found)), of_plain_sums(&all));
            }
        }

        /// To the last bit where the weight is a product of small factors, as those in use are:
        /// decimals in millionths, alone or with glances in millionths.
        #[test]
        fn one_plain_weight_for_all_changes_no_bit(
            all in clusters(),
            weight in prop::sample::select(vec![1i128, 2, 3, 5, 6, 7, 12, 49, 250, 2500, 700_000]),
            unit in prop::sample::select(vec![1, 1000, MILLION, MILLION * MILLION]),
        ) {
            let weighed: Vec<_> = all.iter().map(|c| c.map(|q| q * weight * unit)).collect();
            let (plain, weighed) = (clusters_of(&all), clusters_of(&weighed));
            prop_assert_eq!(plain.mean(level()), weighed.mean(level()));
            prop_assert_eq!(plain.effective_size(), weighed.effective_size());
            let none = |clusters: &[[i128; 2]]| {
                clusters_of(&clusters.iter().map(|c| [0, c[1]]).collect::<Vec<_>>())
            };
            let weighed: Vec<_> = all.iter().map(|c| c.map(|q| q * weight * unit)).collect();
            prop_assert_eq!(none(&all).share(level()), none(&weighed).share(level()));
            prop_assert!(clusters_of(&[[0, 0]; 3]).quotient().is_err());
        }

        #[test]
        fn one_weight_for_all_changes_nothing(all in clusters(), weight in 1i128..1_000_000_000_000) {
            let weighed: Vec<_> = all.iter().map(|c| c.map(|q| q * weight)).collect();
            let (plain, weighed) =
                (clusters_of(&all).mean(level()), clusters_of(&weighed).mean(level()));
            let (Ok(plain), Ok(weighed)) = (plain, weighed) else { return Ok(()) };
            prop_assert!((plain.value - weighed.value).abs() <= 1e-14 * plain.value.abs());
            let gap = (standard_error(plain) - standard_error(weighed)).abs();
            prop_assert!(gap <= 1e-6 * standard_error(plain).max(1e-3));
        }

        /// Weights as floats beside plain clusters: SE = √(Σw²(y − Rx)²·n/(n − 1)) / Σwx.
        #[test]
        fn weights_multiply_what_their_cluster_counts(
            all in prop::collection::vec(([0i128..1000, 1i128..1000], 1i128..5_000_000), 2..30),
        ) {
            let weighed: Vec<_> = all.iter().map(|(c, w)| c.map(|q| q * w)).collect();
            let Ok(found) = clusters_of(&weighed).ratio(level()) else { return Ok(()) };
            let floats: Vec<[f64; 3]> = all
                .iter()
                .map(|&([y, x], weight)| [weight as f64 / 1e6, y as f64, x as f64])
                .collect();
            let size: f64 = floats.iter().map(|[w, _, x]| w * x).sum();
            let value = floats.iter().map(|[w, y, _]| w * y).sum::<f64>() / size;
            let squares: f64 =
                floats.iter().map(|[w, y, x]| (w * (y - value * x)).powi(2)).sum();
            let n = all.len() as f64;
            let expected = (squares * n / (n - 1.0)).sqrt() / size;
            prop_assert!((found.value - value).abs() < 1e-12 * value.max(1.0));
            prop_assert!((standard_error(found) - expected).abs() <= 1e-6 * expected.max(1e-3));
        }
    }
}

mod differences {
    use super::*;

    #[test]
    fn four_pairs_by_hand() {
        // Differences −2, 0, −6, −4 with mean −3; squares about it 1 + 9 + 9 + 1 = 20.
        let pairs = clusters_of(&[[10, 12, 1], [20, 20, 1], [30, 36, 1], [40, 44, 1]]);
        let found = pairs.difference(level()).unwrap();
        assert_eq!(found.value, -3.0);
        assert_close(standard_error(found), (20.0f64 / 12.0).sqrt(), 1e-12);
        // t = −3/√(5/3) = −2.3238 with 3 degrees of freedom. The law of t with 3 degrees in closed
        // form: ½ + (atan(u) + u/(1 + u²))/π, u = t/√3.
        let u = 3.0 / (5.0f64 / 3.0).sqrt() / 3.0f64.sqrt();
        let tail = 0.5 - (u.atan() + u / (1.0 + u * u)) / std::f64::consts::PI;
        assert_close(found.p_value(0.0).unwrap(), 2.0 * tail, 1e-9);
        assert_close(found.p_value_below(0.0).unwrap(), tail, 1e-9);
        assert_close(found.p_value_above(0.0).unwrap(), 1.0 - tail, 1e-9);
    }

    #[test]
    fn what_costs_the_same_everywhere_has_no_interval() {
        let same = clusters_of(&[[1, 1, 1], [3, 3, 1], [5, 5, 1]]);
        assert_eq!(same.difference(level()), Err(StatsError::NoSpread));
    }
}

mod ratios_of_ratios {
    use super::*;

    /// By the formula, the residuals one by one.
    fn reference(all: &[[i128; 4]]) -> (f64, f64) {
        let total = |i: usize| all.iter().map(|c| c[i] as f64).sum::<f64>();
        let totals = [0, 1, 2, 3].map(total);
        let part = |c: &[i128; 4], i: usize| c[i] as f64 / totals[i];
        let squares: f64 =
            all.iter().map(|c| (part(c, 0) - part(c, 1) - part(c, 2) + part(c, 3)).powi(2)).sum();
        let n = all.len() as f64;
        let value = totals[0] / totals[1] / (totals[2] / totals[3]);
        (value, (squares * n / (n - 1.0)).sqrt())
    }

    /// Where the second ratio is the same in every cluster, it is a constant.
    #[test]
    fn a_constant_second_ratio_only_divides() {
        let all = [[3, 2, 2, 1], [9, 4, 4, 2], [5, 3, 6, 3], [7, 5, 2, 1]];
        let clusters = clusters_of(&all);
        let found = clusters.ratio_of_ratios(level()).unwrap();
        let first = clusters.pick([0, 1]).ratio(level()).unwrap();
        assert_close(found.value, first.value / 2.0, 1e-15);
        assert_relative(standard_error(found), standard_error(first) / first.value, 1e-12);
        assert_eq!(found.method, Method::LinearisedLogRatio);
    }

    #[test]
    fn input_without_an_answer_is_refused() {
        let found = |all: &[[i128; 4]]| clusters_of(all).ratio_of_ratios(level());
        assert_eq!(found(&[[1, 2, 3, 4]]), Err(StatsError::TooFewClusters(1)));
        assert_eq!(found(&[[1, 2, 0, 4], [1, 2, 0, 4]]), Err(StatsError::Sum(0)));
        assert_eq!(found(&[[1, 2, 3, 4], [2, 4, 6, 8]]), Err(StatsError::NoSpread));
    }

    proptest! {
        #[test]
        fn interval_and_p_values_are_those_of_the_logarithm(
            all in prop::collection::vec([1i128..900, 1i128..900, 1i128..900, 1i128..900], 3..30),
        ) {
            let found = clusters_of(&all).ratio_of_ratios(level()).unwrap();
            let (value, error) = reference(&all);
            prop_assert!((found.value / value - 1.0).abs() < 1e-12);
            prop_assert!((standard_error(found) - error).abs() <= 1e-6 * error.max(1e-3));
            let Interval { low, high } = found.interval;
            prop_assert!(0.0 < low && low < value && value < high);
            prop_assert!((low * high / (value * value) - 1.0).abs() < 1e-9);
            prop_assert!((found.p_value_below(high).unwrap() - 0.025).abs() < 1e-8);
            prop_assert!((found.p_value_above(low).unwrap() - 0.025).abs() < 1e-8);
            prop_assert_eq!(found.p_value_above(0.0), Ok(0.0));
            prop_assert_eq!(found.p_value_below(-1.0), Ok(1.0));
        }

        /// Asked the other way round, everything is the reciprocal.
        #[test]
        fn exchanging_the_ratios_inverts_the_answer(
            all in prop::collection::vec([1i128..900, 1i128..900, 1i128..900, 1i128..900], 3..30),
        ) {
            let clusters = clusters_of(&all);
            let forth = clusters.ratio_of_ratios(level()).unwrap();
            let back = clusters.pick([2, 3, 0, 1]).ratio_of_ratios(level()).unwrap();
            prop_assert!((forth.interval.low * back.interval.high - 1.0).abs() < 1e-9);
            let millions: Vec<_> = all.iter().map(|c| c.map(|q| q * MILLION)).collect();
            prop_assert_eq!(clusters_of(&millions).ratio_of_ratios(level()), Ok(forth));
        }
    }
}
