//! What every SVG needs beyond its marks: a name and a description for readers who can't see it.

/// Adds a title, a description and a role to an SVG document.
pub(crate) fn with_alt_text(svg: &str, title: &str, description: &str) -> String {
    let Some(head_end) = svg.find('>') else { return svg.to_owned() };
    let (head, body) = svg.split_at(head_end);
    format!(
        "{head} role=\"img\" aria-labelledby=\"title description\">\n<title \
         id=\"title\">{}</title>\n<desc id=\"description\">{}</desc>{}",
        escape(title),
        escape(description),
        &body[1..]
    )
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_in_texts_stays_text() {
        let svg = with_alt_text("<svg width=\"1\"><rect/></svg>", "a < b", "<b>&");
        assert!(svg.starts_with("<svg width=\"1\" role=\"img\""));
        assert!(svg.contains("<title id=\"title\">a &lt; b</title>"));
        assert!(svg.contains("&lt;b&gt;&amp;</desc><rect/></svg>"));
    }
}
