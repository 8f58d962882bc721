//! How files state what the shop charges: the group `rates` of a shop file, or of a job's own `shop`.
//!
//! A file states only what differs: it is read on top of rates that are there already (the defaults, or the shop file's
//! under a job's own), figure by figure; a list takes the place of the whole list. What the figures mean is in `rates`.
//! Areas are square feet in the program; a file in millimetres counts by the square metre.

use serde_json::{Value, json};

use super::rates::{
    Basis, Consumables, Finish, Hardware, Labour, MaterialRates, Operation, Overhead, Payment, Profit, Rates,
    RatesError, Tax, Wage, Work,
};
use super::rates_shapes::{
    AreaAmount, Hours, LONGEST, Percent, Step, hours_node, percent_node, square_feet_per_file_area,
};
use crate::measure::{Money, Rational, Units};
use crate::pile::file::Written;
use crate::pile::reading::{Amount, Fields, Group, ListOf, Node, Ratio, Record, Text, Truth, Whole};
use crate::pile::record::ratio_node;

/// Lines of hardware at most.
const LINES: usize = 1_000;

/// Rates as a file states them, on top of `base`.
pub(crate) struct RatesRecord<'b> {
    pub(crate) base: &'b Rates,
}

impl Record for RatesRecord<'_> {
    type Out = Rates;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Rates> {
        let base = self.base;
        let about = "Sign or code that amounts are printed with.";
        let currency = text(f, "currency", about, 8, &base.currency);
        let letterhead =
            texts(f, "letterhead", "Who makes the offer, above the client's page, a line each.", 120, &base.letterhead);
        let terms = texts(
            f,
            "terms",
            "What the offer is subject to, below the client's page, a paragraph each.",
            600,
            &base.terms,
        );
        let about = "Days an offer stands. Source: common practice, 30 while wood prices move.";
        let days = Whole { range: (1, 3650) };
        let validity_days = f.defaulted("validity_days", about, days, base.validity_days, json!(base.validity_days));
        let about =
            "The price before tax is rounded once, to the nearest whole number of these; taxes and sums to the cent.";
        let rounding = f.defaulted("rounding", about, Step, base.rounding.clone(), amount_json(&base.rounding));
        let material = f.optional("material", "How bought stock is charged.", Group(MaterialRecord(&base.material)));
        let consumables =
            f.optional("consumables", "What is used up beside the stock.", Group(ConsumablesRecord(&base.consumables)));
        let finish =
            f.optional("finish", "The finish; its labour is `labour.finishing`.", Group(FinishRecord(&base.finish)));
        let about = "Hardware and whatever else is bought for the job, a line each.";
        let hardware = ListOf { shape: Group(HardwareRecord), least: 0, most: LINES };
        let written = list_json(base.hardware.iter().map(hardware_node));
        let whole = base.hardware.iter().cloned().map(Some).collect();
        let hardware = f.defaulted("hardware", about, hardware, whole, written);
        let about = "Hours by operation, and what an hour costs.";
        let labour = f.optional("labour", about, Group(LabourRecord(&base.labour)));
        let about = "What the shop costs whether or not there is work.";
        let overhead = f.optional("overhead", about, Group(OverheadRecord(&base.overhead)));
        let about = "Set aside for what goes wrong, percent of all costs. Placeholder: put your own.";
        let contingency = percent(f, "contingency", about, &base.contingency);
        let about = "What is earned beyond the cost: by `markup` or by `margin`, never both.";
        let profit = f.optional("profit", about, Group(ProfitRecord(&base.profit)));
        let tax = f.optional("tax", "Put on last.", Group(TaxRecord(&base.tax)));
        let about =
            "When what share of the total is due; together 100 percent. Source: common practice, half with the order.";
        let payments = ListOf { shape: Group(PaymentRecord), least: 0, most: 24 };
        let written = list_json(base.payments.iter().map(payment_node));
        let whole = base.payments.iter().cloned().map(Some).collect();
        let payments = f.defaulted("payments", about, payments, whole, written);
        Some(Rates {
            currency,
            letterhead,
            terms,
            validity_days,
            rounding,
            material: material.unwrap_or_else(|| base.material.clone()),
            consumables: consumables.unwrap_or_else(|| base.consumables.clone()),
            finish: finish.unwrap_or_else(|| base.finish.clone()),
            hardware: hardware.into_iter().flatten().collect(),
            labour: labour.unwrap_or_else(|| base.labour.clone()),
            overhead: overhead.unwrap_or_else(|| base.overhead.clone()),
            contingency,
            profit: profit.unwrap_or_else(|| base.profit.clone()),
            tax: tax.unwrap_or_else(|| base.tax.clone()),
            payments: payments.into_iter().flatten().collect(),
        })
    }
}

/// Notes where rates, with everything resolved, make no price; `within` is where they stand in the file.
pub(crate) fn check_rates(f: &mut Fields<'_>, rates: &Rates, within: &str) {
    let Err(error) = rates.judged() else { return };
    let (place, cure) = match error {
        RatesError::NothingLeft => ("rates.profit", "lower `profit` or `overhead.sales`"),
        RatesError::OverheadTwice => (
            "rates.overhead",
            "write 0 for `hour`, `prime` and `sales` under `overhead`, or leave `labour.yearly.overhead` out",
        ),
        RatesError::Payments => ("rates.payments", "write shares that add up to 100, or [] for no schedule"),
    };
    f.fault(&format!("{within}{place}"), &error.to_string(), cure);
}

struct MaterialRecord<'b>(&'b MaterialRates);

impl Record for MaterialRecord<'_> {
    type Out = MaterialRates;

    fn fields(&self, f: &mut Fields<'_>) -> Option<MaterialRates> {
        let about = "Put on all materials, percent of them. Placeholder: put your own.";
        let markup = percent(f, "markup", about, &self.0.markup);
        let about = "Take the credit of kept offcuts, as the plan has it, off the material.";
        let credit = self.0.credit_offcuts;
        Some(MaterialRates {
            markup,
            credit_offcuts: f.defaulted("credit_offcuts", about, Truth, credit, json!(credit)),
        })
    }
}

struct ConsumablesRecord<'b>(&'b Consumables);

impl Record for ConsumablesRecord<'_> {
    type Out = Consumables;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Consumables> {
        let about = "Glue, for each area of glue joint. Placeholder: put your own.";
        let glue = per_area(f, "glue", about, &self.0.glue);
        let about = "Sandpaper, screws and the like, for each finished part. Placeholder: put your own.";
        let part = amount(f, "part", about, &self.0.part);
        let about = "Consumables as a share of the stock, percent of its cost.";
        Some(Consumables { glue, part, share: percent(f, "share", about, &self.0.share) })
    }
}

struct FinishRecord<'b>(&'b Finish);

impl Record for FinishRecord<'_> {
    type Out = Finish;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Finish> {
        let about = "Coats on every finished surface; 0: none. Placeholder: put your own.";
        let coats = f.defaulted("coats", about, Whole { range: (0, 50) }, self.0.coats, json!(self.0.coats));
        let about = "What a coat costs, for each area of finished surface. Placeholder: put your own.";
        Some(Finish { coats, per_coat: per_area(f, "per_coat", about, &self.0.per_coat) })
    }
}

struct HardwareRecord;

impl Record for HardwareRecord {
    type Out = Hardware;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Hardware> {
        let what = f.required("what", "What it is.", Text { most: 120 });
        let range = Ratio { range: (0.0, 1.0e6) };
        let qty = f.defaulted("qty", "How many.", range, Rational::from_integer(1.into()), json!(1));
        let cost = f.required("cost", "What one costs.", Amount);
        Some(Hardware { what: what?, qty, cost: cost? })
    }
}

struct LabourRecord<'b>(&'b Labour);

impl Record for LabourRecord<'_> {
    type Out = Labour;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Labour> {
        let about = "What an hour costs where an operation has no rate of its own. Placeholder: put your own.";
        let hourly = amount(f, "rate", about, &self.0.wage.per_hour());
        let about = "The hourly rate from a year's figures, in place of `rate`.";
        let yearly = f.optional("yearly", about, Group(YearlyRecord));
        f.not_both(["rate", "yearly"], "write the rate, or what it follows from");
        let wage = match yearly {
            Some(yearly) => yearly,
            None if f.has("rate") => Wage::Hourly(hourly),
            None => self.0.wage.clone(),
        };
        let work = Operation::ALL.map(|operation| {
            let (about, base) = (work_about(operation), self.0.of(operation));
            let stated = f.optional(operation.name(), about, Group(WorkRecord { operation, base }));
            stated.unwrap_or_else(|| base.clone())
        });
        Some(Labour::new(wage, |operation| work[operation as usize].clone()))
    }
}

fn work_about(operation: Operation) -> &'static str {
    match operation {
        Operation::Design => "Talks, drawings and the quote itself, once a job.",
        Operation::LumberTrip => "Fetching and choosing the stock, once a job.",
        Operation::Cut => "Sawing and milling, for each saw cut of the plan.",
        Operation::GlueUp => "Each panel or lamination: edges, dry fit, clamps, cleaning up.",
        Operation::Part => "Shaping and joinery, for each finished part.",
        Operation::Sanding => "Sanding, by the area of finished surface.",
        Operation::Finishing => "The finish, by the area of finished surface and the coats.",
        Operation::Assembly => "Putting together, for each sub-assembly (`group`).",
        Operation::Delivery => "Packing and delivery, once a job.",
        Operation::Fitting => "Fitting at the client's, once a job.",
    }
}

struct YearlyRecord;

impl Record for YearlyRecord {
    type Out = Wage;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Wage> {
        let wages = f.required("wages", "A year's pay with what is due on it.", Amount);
        let about = "A year's rent, machines, insurance and the like, when the rate is to carry them.";
        let overhead = f.defaulted("overhead", about, Amount, Money::zero(), json!(0));
        let about = "Hours billed in a year: fewer than are paid.";
        let billable_hours = f.required("billable_hours", about, Ratio { range: (1.0, LONGEST) });
        Some(Wage::Yearly { wages: wages?, overhead, billable_hours: billable_hours? })
    }
}

struct WorkRecord<'b> {
    operation: Operation,
    base: &'b Work,
}

impl Record for WorkRecord<'_> {
    type Out = Work;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Work> {
        let by_area = matches!(self.operation.basis(), Basis::Area | Basis::CoatArea);
        let about = match self.operation.basis() {
            Basis::Job => "Hours in all. Placeholder: put your own.",
            Basis::CoatArea => "Hours for each area and coat. Placeholder: put your own.",
            Basis::Area => "Hours for each area. Placeholder: put your own.",
            Basis::Cut | Basis::GlueUp | Basis::Part | Basis::Group => "Hours for one. Placeholder: put your own.",
        };
        let written = json_of(&hours_node(&self.base.hours, by_area, Units::Inches));
        let hours = f.defaulted("hours", about, Hours { by_area }, self.base.hours.clone(), written);
        let rate = f.optional("rate", "What an hour of it costs; left out: the shop's rate.", Amount);
        Some(Work { hours, rate: rate.or_else(|| self.base.rate.clone()) })
    }
}

struct OverheadRecord<'b>(&'b Overhead);

impl Record for OverheadRecord<'_> {
    type Out = Overhead;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Overhead> {
        let job = amount(f, "job", "For the whole job.", &self.0.job);
        let hour = amount(f, "hour", "For each hour of labour. Placeholder: put your own.", &self.0.hour);
        let about = "Percent of prime cost, which is materials and labour. Source: a government manual for home businesses \
                     names 40 as a rule of thumb.";
        let prime = percent(f, "prime", about, &self.0.prime);
        let sales = percent(f, "sales", "Percent of the price before tax.", &self.0.sales);
        Some(Overhead { job, hour, prime, sales })
    }
}

struct ProfitRecord<'b>(&'b Profit);

impl Record for ProfitRecord<'_> {
    type Out = Profit;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Profit> {
        let about = "Percent of the cost; 25 on the cost is 20 of the price. In place of `margin`.";
        let markup = f.optional("markup", about, Percent { most: 10_000.0 });
        let about = "Percent of the price before tax; 20 of the price is 25 on the cost. Placeholder: put your own.";
        let default = match self.0 {
            Profit::Margin(margin) | Profit::Markup(margin) => margin,
        };
        let margin = f.defaulted("margin", about, Percent { most: 99.0 }, default.clone(), percent_json(default));
        f.not_both(["markup", "margin"], "profit is reckoned on the cost or on the price: keep one of them");
        Some(match markup {
            Some(markup) => Profit::Markup(markup),
            None if f.has("margin") => Profit::Margin(margin),
            None => self.0.clone(),
        })
    }
}

struct TaxRecord<'b>(&'b Tax);

impl Record for TaxRecord<'_> {
    type Out = Tax;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Tax> {
        let name = text(f, "name", "What it is called.", 40, &self.0.name);
        let about = "Percent of the price; what is taxed at what rate is the law's where you work.";
        Some(Tax { name, share: percent(f, "percent", about, &self.0.share) })
    }
}

struct PaymentRecord;

impl Record for PaymentRecord {
    type Out = Payment;

    fn fields(&self, f: &mut Fields<'_>) -> Option<Payment> {
        let when = f.required("when", "When it is due.", Text { most: 80 });
        let share = f.required("percent", "Percent of the total.", Percent { most: 100.0 });
        Some(Payment { when: when?, share: share? })
    }
}

fn text(f: &mut Fields<'_>, name: &'static str, about: &str, most: usize, base: &str) -> String {
    f.defaulted(name, about, Text { most }, base.to_owned(), json!(base))
}

fn texts(f: &mut Fields<'_>, name: &'static str, about: &str, most: usize, base: &[String]) -> Vec<String> {
    let shape = ListOf { shape: Text { most }, least: 0, most: 24 };
    let whole = base.iter().cloned().map(Some).collect();
    f.defaulted(name, about, shape, whole, json!(base)).into_iter().flatten().collect()
}

fn amount(f: &mut Fields<'_>, name: &'static str, about: &str, base: &Money) -> Money {
    f.defaulted(name, about, Amount, base.clone(), amount_json(base))
}

fn percent(f: &mut Fields<'_>, name: &'static str, about: &str, base: &Rational) -> Rational {
    f.defaulted(name, about, Percent { most: 1_000.0 }, base.clone(), percent_json(base))
}

fn per_area(f: &mut Fields<'_>, name: &'static str, about: &str, base: &Money) -> Money {
    f.defaulted(name, about, AreaAmount, base.clone(), amount_json(base))
}

fn json_of(node: &Node) -> Value {
    serde_json::to_value(node).unwrap_or_default()
}

fn amount_json(amount: &Money) -> Value {
    json_of(&ratio_node(amount.as_rational()))
}

fn percent_json(share: &Rational) -> Value {
    json_of(&percent_node(share))
}

fn list_json(items: impl Iterator<Item = Node>) -> Value {
    json_of(&Node::List(items.collect()))
}

fn hardware_node(line: &Hardware) -> Node {
    let mut out = Written::default();
    out.text("what", &line.what).put("qty", ratio_node(&line.qty)).put("cost", ratio_node(line.cost.as_rational()));
    out.node()
}

fn payment_node(payment: &Payment) -> Node {
    let mut out = Written::default();
    out.text("when", &payment.when).put("percent", percent_node(&payment.share));
    out.node()
}

/// What the rates state beyond the defaults; nothing when they are the defaults.
pub(crate) fn rates_node(rates: &Rates, units: Units) -> Option<Node> {
    beyond(&whole_node(rates, units), &whole_node(&Rates::defaults(), units))
}

/// What of `node` is not in `plain`.
fn beyond(node: &Node, plain: &Node) -> Option<Node> {
    let (Node::Object(fields), Node::Object(_)) = (node, plain) else {
        return (node != plain).then(|| node.clone());
    };
    let differing = fields.iter().filter_map(|(name, value)| {
        let rest = match plain.get(name) {
            Some(plain) => beyond(value, plain),
            None => Some(value.clone()),
        };
        rest.map(|rest| (name.clone(), rest))
    });
    let differing: Vec<(String, Node)> = differing.collect();
    (!differing.is_empty()).then_some(Node::Object(differing))
}

fn whole_node(rates: &Rates, units: Units) -> Node {
    let money = |amount: &Money| ratio_node(amount.as_rational());
    let for_area = |amount: &Money| ratio_node(&(amount.as_rational() / square_feet_per_file_area(units)));
    let texts = |texts: &[String]| Node::List(texts.iter().cloned().map(Node::Text).collect());
    let group = |write: &dyn Fn(&mut Written)| {
        let mut out = Written::default();
        write(&mut out);
        out.node()
    };
    group(&|out| {
        out.text("currency", &rates.currency).put("letterhead", texts(&rates.letterhead));
        out.put("terms", texts(&rates.terms)).number("validity_days", f64::from(rates.validity_days));
        out.put("rounding", money(&rates.rounding));
        out.put(
            "material",
            group(&|out| {
                out.put("markup", percent_node(&rates.material.markup));
                out.put("credit_offcuts", Node::Truth(rates.material.credit_offcuts));
            }),
        );
        out.put(
            "consumables",
            group(&|out| {
                out.put("glue", for_area(&rates.consumables.glue)).put("part", money(&rates.consumables.part));
                out.put("share", percent_node(&rates.consumables.share));
            }),
        );
        out.put(
            "finish",
            group(&|out| {
                out.number("coats", f64::from(rates.finish.coats)).put("per_coat", for_area(&rates.finish.per_coat));
            }),
        );
        out.put("hardware", Node::List(rates.hardware.iter().map(hardware_node).collect()));
        out.put("labour", labour_node(&rates.labour, units));
        out.put(
            "overhead",
            group(&|out| {
                let Overhead { job, hour, prime, sales } = &rates.overhead;
                out.put("job", money(job)).put("hour", money(hour));
                out.put("prime", percent_node(prime)).put("sales", percent_node(sales));
            }),
        );
        out.put("contingency", percent_node(&rates.contingency));
        out.put(
            "profit",
            group(&|out| {
                match &rates.profit {
                    Profit::Markup(markup) => out.put("markup", percent_node(markup)),
                    Profit::Margin(margin) => out.put("margin", percent_node(margin)),
                };
            }),
        );
        out.put(
            "tax",
            group(&|out| {
                out.text("name", &rates.tax.name).put("percent", percent_node(&rates.tax.share));
            }),
        );
        out.put("payments", Node::List(rates.payments.iter().map(payment_node).collect()));
    })
}

fn labour_node(labour: &Labour, units: Units) -> Node {
    let mut out = Written::default();
    match &labour.wage {
        Wage::Hourly(rate) => out.put("rate", ratio_node(rate.as_rational())),
        Wage::Yearly { wages, overhead, billable_hours } => {
            let mut yearly = Written::default();
            yearly.put("wages", ratio_node(wages.as_rational())).put("overhead", ratio_node(overhead.as_rational()));
            yearly.put("billable_hours", ratio_node(billable_hours));
            out.put("yearly", yearly.node())
        }
    };
    for operation in Operation::ALL {
        let by_area = matches!(operation.basis(), Basis::Area | Basis::CoatArea);
        let work = labour.of(operation);
        let mut fields = Written::default();
        fields.put("hours", hours_node(&work.hours, by_area, units));
        fields.maybe(work.rate.as_ref(), |out, rate| out.put("rate", ratio_node(rate.as_rational())));
        out.put(operation.name(), fields.node());
    }
    out.node()
}
