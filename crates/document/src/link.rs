//! Addresses that stay inside the page or beside it.

/// Returns a link to a file beside the report. Whatever the path says, no browser reads a scheme, a
/// host or a query into the link.
pub(crate) fn relative(path: &str) -> String {
    format!("./{}", percent_encode(path, |byte| is_unreserved(byte) || byte == b'/'))
}

/// Returns the picture itself as an address without quotes, markup or colons.
pub(crate) fn data_address(svg: &str) -> String {
    let plain = |byte| is_unreserved(byte) || b" /=,;()+".contains(&byte);
    format!("data:image/svg+xml,{}", percent_encode(svg.trim(), plain))
}

/// RFC 3986, section 2.3.
fn is_unreserved(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || b"-._~".contains(&byte)
}

/// RFC 3986, section 2.1.
fn percent_encode(text: &str, plain: impl Fn(u8) -> bool) -> String {
    let mut encoded = String::with_capacity(text.len());
    for byte in text.bytes() {
        if plain(byte) {
            encoded.push(char::from(byte));
        } else {
            encoded.push_str(&format!("%{byte:02X}"));
        }
    }
    encoded
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn links_stay_beside_the_report() {
        assert_eq!(relative("figures/a b.svg"), "./figures/a%20b.svg");
        assert_eq!(relative("//host/x?y#z"), ".///host/x%3Fy%23z");
        assert_eq!(relative("javascript:alert(1)"), "./javascript%3Aalert%281%29");
        assert_eq!(relative("größe.csv"), "./gr%C3%B6%C3%9Fe.csv");
    }

    #[test]
    fn data_addresses_hold_no_markup() {
        assert_eq!(
            data_address("<svg xmlns=\"http://x\">\n#&'%</svg>\n"),
            "data:image/svg+xml,%3Csvg xmlns=%22http%3A//x%22%3E%0A%23%26%27%25%3C/svg%3E"
        );
    }
}
