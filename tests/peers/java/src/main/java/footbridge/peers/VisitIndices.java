package footbridge.peers;

import footbridge.peers.VisitReading.State;
import java.math.BigDecimal;
import java.util.ArrayList;
import java.util.List;
import java.util.Map;
import java.util.Objects;

/** Which pressures count, and the indices made of them. */
final class VisitIndices {

  /** A pressure, or why there is none, and the readings that were looked at. */
  record Chosen(BigDecimal value, String method, String reason, List<VisitReading> inputs) {}

  record Index(String id, String side, Integer hundredths, String method, String reason, List<VisitReading> inputs) {}

  private record Pair(VisitReading first, VisitReading second) {
    boolean any(State state) {
      return is(first, state) || is(second, state);
    }

    boolean both(State state) {
      return is(first, state) && is(second, state);
    }

    VisitReading plain() {
      return is(first, State.PLAIN) ? first : second;
    }

    VisitReading other() {
      return is(first, State.PLAIN) ? second : first;
    }

    boolean plainIsHigher() {
      return any(State.PLAIN) && any(State.BELOW) && plain().value.compareTo(other().value) >= 0;
    }

    Chosen higher(String method) {
      return new Chosen(first.value.max(second.value), method, null, inputsOf(first, second));
    }

    Chosen plainOne(String method) {
      return new Chosen(plain().value, method, null, inputsOf(first, second));
    }

    Chosen none(String reason) {
      return new Chosen(null, null, reason, inputsOf(first, second));
    }

    /** None, for the reason of the one that says most. */
    Chosen none() {
      boolean firstSaysMore = first != null && !is(first, State.PLAIN);
      return none(reasonOf(firstSaysMore ? first : second));
    }
  }

  private static final String[] ARTERIES = {"dorsalis-pedis", "posterior-tibial", "peroneal", "anterior-tibial"};

  private final Map<String, VisitReading> readings;
  private final Chosen arm;

  VisitIndices(Map<String, VisitReading> readings) {
    this.readings = readings;
    this.arm = chooseArm();
  }

  /** The indices of a leg: those of the single arteries only where there is one. */
  List<Index> of(String side) {
    List<Index> indices = new ArrayList<>();
    indices.add(ratio("abi", side, chooseAnkle(side)));
    for (String artery : ARTERIES) {
      Chosen pressure = one(readings.get("ankle." + artery + "/" + side), artery + " artery");
      Index index = ratio("abi." + artery, side, pressure);
      if (index.hundredths() != null) indices.add(index);
    }
    indices.add(ratio("tbi", side, one(readings.get("toe.pressure/" + side), "toe pressure")));
    return indices;
  }

  private static boolean is(VisitReading reading, State state) {
    return reading != null && reading.is(state);
  }

  private static String reasonOf(VisitReading reading) {
    if (is(reading, State.ABSENT)) return reading.absent;
    return "unknown";
  }

  private static List<VisitReading> inputsOf(VisitReading... readings) {
    List<VisitReading> inputs = new ArrayList<>();
    for (VisitReading reading : readings) {
      if (reading != null && !reading.is(State.ABSENT)) inputs.add(reading);
    }
    return inputs;
  }

  private static Chosen one(VisitReading reading, String method) {
    if (is(reading, State.PLAIN)) return new Chosen(reading.value, method, null, inputsOf(reading));
    return new Chosen(null, null, reasonOf(reading), inputsOf(reading));
  }

  private Chosen chooseArm() {
    Pair arms = new Pair(readings.get("arm.systolic/right"), readings.get("arm.systolic/left"));
    if (arms.both(State.PLAIN)) return arms.higher("higher arm");
    if (arms.plainIsHigher()) return arms.plainOne("higher arm");
    if (arms.any(State.BELOW) || arms.any(State.HARD) || arms.any(State.NO_SIGNAL)) return arms.none();
    return arms.any(State.PLAIN) ? arms.plainOne("the one arm read") : arms.none();
  }

  private Chosen chooseAnkle(String side) {
    Pair pair =
        new Pair(readings.get("ankle.dorsalis-pedis/" + side), readings.get("ankle.posterior-tibial/" + side));
    if (pair.any(State.HARD)) return pair.none("unknown");
    if (pair.any(State.BELOW)) {
      return pair.plainIsHigher() ? pair.plainOne("higher ankle artery") : pair.none("unknown");
    }
    if (pair.both(State.PLAIN)) return pair.higher("higher ankle artery");
    if (pair.any(State.PLAIN)) return pair.plainOne("the one ankle artery read");
    VisitReading third = readings.get("ankle.peroneal/" + side);
    if (!pair.both(State.NO_SIGNAL) || third == null) return pair.none();
    List<VisitReading> inputs = inputsOf(pair.first(), pair.second(), third);
    if (is(third, State.PLAIN)) return new Chosen(third.value, "peroneal artery", null, inputs);
    return new Chosen(null, null, pair.none().reason(), inputs);
  }

  private Index ratio(String id, String side, Chosen numerator) {
    List<VisitReading> inputs = new ArrayList<>(numerator.inputs());
    inputs.addAll(arm.inputs());
    if (numerator.value() == null || arm.value() == null) {
      String reason = Objects.requireNonNullElse(numerator.reason(), arm.reason());
      return new Index(id, side, null, null, reason, inputs);
    }
    int hundredths = hundredths(numerator.value(), arm.value());
    return new Index(id, side, hundredths, numerator.method() + " over " + arm.method(), null, inputs);
  }

  /** Rounded half up; pressures are whole or half millimetres, so doubled they are whole numbers. */
  private static int hundredths(BigDecimal numerator, BigDecimal denominator) {
    long n = (long) (numerator.doubleValue() * 2);
    long d = (long) (denominator.doubleValue() * 2);
    return (int) ((200 * n + d) / (2 * d));
  }
}
