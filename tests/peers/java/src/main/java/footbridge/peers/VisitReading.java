package footbridge.peers;

import com.fasterxml.jackson.databind.JsonNode;
import java.math.BigDecimal;
import java.math.MathContext;
import java.math.RoundingMode;
import java.util.List;
import java.util.Map;
import org.hl7.fhir.r4.model.codesystems.DataAbsentReason;

/** A reading of the input in one shape, whichever of its forms was sent. */
final class VisitReading {

  enum State {
    PLAIN,
    BELOW,
    HARD,
    NO_SIGNAL,
    ABSENT,
    OTHER
  }

  /** 1 mmHg in kPa, docs/input.md. */
  private static final BigDecimal KPA_OF_MMHG = new BigDecimal("0.133322");

  private static final BigDecimal TWO = new BigDecimal(2);
  private static final BigDecimal QUARTER = new BigDecimal("0.25");

  private static final Map<String, String> BOUNDS =
      Map.of("<", "below ", "<=", "at most ", ">=", "at least ", ">", "above ");

  final MappingTables.Spot spot;
  State state = State.OTHER;
  BigDecimal value;
  String comparator;
  String word;
  String written;

  /** Of a pulse whose grade the scale leaves without a meaning. */
  String text;

  String absent;
  String note;
  String original;
  boolean incompressible;

  /** Set once the reading has become an Observation. */
  String uuid;

  VisitReading(MappingTables.Spot spot, JsonNode sent, Map<String, MappingTables.PulseScale> pulses) {
    this.spot = spot;
    if (!sent.isObject()) {
      takeValue(sent, null, null);
      return;
    }
    note = sent.path("note").asText(null);
    if (sent.has("absent")) {
      state = State.ABSENT;
      absent = sent.get("absent").asText();
    } else if (sent.has("finding")) {
      takeFinding(sent);
    } else if (sent.has("grade")) {
      takeGrade(sent, pulses.get(sent.get("scale").asText()));
    } else {
      takeValue(sent.get("value"), sent.path("unit").asText(null), sent.path("comparator").asText(null));
    }
  }

  private void takeValue(JsonNode sent, String unit, String bound) {
    if (sent.isTextual()) {
      word = sent.asText();
      return;
    }
    value = sent.decimalValue();
    comparator = bound;
    if ("kPa".equals(unit)) {
      original = value.toPlainString() + " kPa";
      value = inHalves(value.divide(KPA_OF_MMHG, MathContext.DECIMAL64));
    }
    state = bound == null ? State.PLAIN : bound.startsWith("<") ? State.BELOW : State.HARD;
  }

  /** Half millimetres, docs/clinical.md: at the arm the nearest, else never up to a whole one. */
  private BigDecimal inHalves(BigDecimal mmhg) {
    if (spot.key().startsWith("arm.")) {
      return half(mmhg.multiply(TWO).setScale(0, RoundingMode.HALF_UP));
    }
    BigDecimal whole = mmhg.setScale(0, RoundingMode.FLOOR);
    boolean more = mmhg.subtract(whole).compareTo(QUARTER) > 0;
    return half(whole.multiply(TWO).add(more ? BigDecimal.ONE : BigDecimal.ZERO));
  }

  private static BigDecimal half(BigDecimal halves) {
    BigDecimal value = halves.divide(TWO).stripTrailingZeros();
    return value.scale() < 0 ? value.setScale(0) : value;
  }

  private void takeFinding(JsonNode sent) {
    incompressible = sent.get("finding").asText().equals("incompressible");
    state = incompressible ? State.HARD : State.NO_SIGNAL;
    if (sent.has("limit")) value = sent.get("limit").decimalValue();
  }

  private void takeGrade(JsonNode sent, MappingTables.PulseScale scale) {
    int grade = sent.get("grade").asInt();
    word = scale.meaning().get(grade);
    String graded = "grade " + grade + " on the scale " + scale.name();
    if (word == null) text = graded + ", whose meaning the scale does not state";
    else written = graded;
  }

  /** Refuses a figure that cannot be, and notes one that is rare. */
  void holdAgainstLimits(List<String> queries) {
    if (value == null || incompressible) return;
    if (outside(spot.reject())) throw new IllegalArgumentException(spot.key() + ": " + value + " cannot be right");
    if (outside(spot.query())) queries.add(spot.label() + ": " + value.toPlainString() + " is unusual");
  }

  private boolean outside(BigDecimal[] span) {
    boolean low = span != null && span[0] != null && value.compareTo(span[0]) < 0;
    return low || span != null && span[1] != null && value.compareTo(span[1]) > 0;
  }

  boolean is(State wanted) {
    return state == wanted;
  }

  /** The reading in words. */
  String spoken() {
    if (absent != null) return "no reading: " + DataAbsentReason.fromCode(absent).getDisplay().toLowerCase();
    if (incompressible) {
      return (value == null ? "" : "above " + value.toPlainString() + " mmHg: ") + "artery incompressible";
    }
    if (state == State.NO_SIGNAL) return "no Doppler signal";
    if (value != null) {
      String bound = comparator == null ? "" : BOUNDS.get(comparator);
      return bound + value.toPlainString() + " " + spot.unitLabel();
    }
    if (text != null) return text;
    String label = spot.words().get(word).getText();
    return written == null ? label : label + " (" + written + ")";
  }
}
