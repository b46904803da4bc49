//! The price book.

use std::str::FromStr;

use rust_decimal::Decimal;

use super::Check;

impl Check<'_> {
    pub(super) fn prices(&mut self) {
        let record = self.record;
        let Some(prices) = &record.prices else { return };
        if prices.currency.len() != 3 || !prices.currency.bytes().all(|b| b.is_ascii_uppercase()) {
            let upper = prices.currency.trim().to_uppercase();
            let hint = if upper.len() == 3 && upper.bytes().all(|b| b.is_ascii_uppercase()) {
                format!("write `{upper}`")
            } else {
                "write its three capital letters, for example `USD`".to_owned()
            };
            self.error(
                "currency",
                "prices.currency",
                format!("`{}` is no currency code", prices.currency),
                hint,
            );
        }
        for (l, line) in prices.lines.iter().enumerate() {
            let at = |key: &str| format!("prices.lines.{l}.{key}");
            let low = self.amount(&at("low"), &line.low);
            let likely = self.amount(&at("likely"), &line.likely);
            let high = self.amount(&at("high"), &line.high);
            if let (Some(low), Some(likely)) = (low, likely)
                && low > likely
            {
                self.error(
                    "price",
                    &at("likely"),
                    format!("the likely price, {likely}, is less than the low one, {low}"),
                    "write them in order: low, likely, high",
                );
            }
            if let (Some(likely), Some(high)) = (likely, high)
                && likely > high
            {
                self.error(
                    "price",
                    &at("high"),
                    format!("the high price, {high}, is less than the likely one, {likely}"),
                    "write them in order: low, likely, high",
                );
            }
        }
    }

    fn amount(&mut self, path: &str, text: &str) -> Option<Decimal> {
        if self.is_broken(path) {
            return None;
        }
        let text = text.trim();
        let digits = text.bytes().all(|b| b.is_ascii_digit() || b == b'.')
            && text.bytes().any(|b| b.is_ascii_digit());
        match Decimal::from_str(text) {
            Ok(amount) if digits => Some(amount),
            Ok(amount) if amount.is_sign_negative() => {
                self.error(
                    "price",
                    path,
                    format!("`{text}` is less than nothing"),
                    "leave off the minus sign",
                );
                None
            }
            _ => {
                let bare: String = text
                    .chars()
                    .filter(|c| c.is_ascii_digit() || *c == '.')
                    .collect();
                let hint = if !bare.is_empty() && Decimal::from_str(&bare).is_ok() {
                    format!("write digits and a point only, for example `{bare}`")
                } else {
                    "write digits and a point only, for example `1250.00`".to_owned()
                };
                self.error("price", path, format!("`{text}` is no amount"), hint);
                None
            }
        }
    }
}
