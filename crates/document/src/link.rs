//! Addresses beside the page.

/// Returns a link to a file beside the report. Whatever the path says, no browser reads a scheme, a
/// host or a query into the link.
pub(crate) fn relative(path: &str) -> String {
    format!("./{}", percent_encode(path))
}

/// RFC 3986, section 2.3.
fn is_unreserved(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || b"-._~".contains(&byte)
}

/// RFC 3986, section 2.1.
fn percent_encode(path: &str) -> String {
    let mut encoded = String::with_capacity(path.len());
    for byte in path.bytes() {
        if is_unreserved(byte) || byte == b'/' {
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
}
