/// Makes an enum of things to choose from. Each goes by the name of its variant, in lower case with
/// hyphens, in files, recipes and commands alike; what a variant says of itself is the help that a
/// command gives.
///
/// The crate that uses it depends on `strum`.
#[macro_export]
macro_rules! choice {
    ($(#[$about:meta])* $seen:vis enum $name:ident { $($variants:tt)* }) => {
        $(#[$about])*
        #[derive(
            Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash,
            ::strum::Display, ::strum::EnumMessage, ::strum::EnumString, ::strum::IntoStaticStr,
            ::strum::VariantArray,
        )]
        #[strum(serialize_all = "kebab-case")]
        $seen enum $name {
            $($variants)*
        }

        impl $name {
            /// All of them, in their order.
            pub const ALL: &'static [Self] = <Self as ::strum::VariantArray>::VARIANTS;

            /// Returns the name.
            #[must_use]
            pub fn name(self) -> &'static str {
                self.into()
            }
        }
    };
}
