package footbridge.peers;

import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.parser.IParser;
import com.fasterxml.jackson.databind.DeserializationFeature;
import com.fasterxml.jackson.databind.ObjectMapper;
import com.fasterxml.jackson.databind.cfg.JsonNodeFeature;
import com.fasterxml.jackson.databind.json.JsonMapper;
import com.sun.management.OperatingSystemMXBean;
import java.io.IOException;
import java.io.PrintStream;
import java.lang.management.ManagementFactory;
import java.nio.charset.StandardCharsets;
import java.nio.file.Files;
import java.nio.file.Path;
import java.util.ArrayList;
import java.util.List;
import java.util.Locale;
import org.hl7.fhir.r4.model.Bundle;

/** The bench peer in Java: {@link VisitBundles} with the library's JSON encoder, emitting or timed. */
public final class ConvertBench {

  private static final String USAGE =
      """
      usage: ConvertBench TABLES --emit FILE...            bundles as NDJSON
             ConvertBench TABLES --time SECONDS FILE...    rates after as long a warm-up
      TABLES: the folder mapping/. FILE: one assessment, or .ndjson with one a line.
      """;

  private static final String RULE_SET = "acc-aha-2024";

  private final ObjectMapper json =
      JsonMapper.builder()
          .enable(DeserializationFeature.USE_BIG_DECIMAL_FOR_FLOATS)
          .disable(JsonNodeFeature.STRIP_TRAILING_BIGDECIMAL_ZEROES)
          .build();
  private final VisitBundles bundles;
  private final IParser encoder = FhirContext.forR4Cached().newJsonParser();
  private long written;

  private ConvertBench(Path tables) throws Exception {
    bundles = new VisitBundles(new MappingTables(tables, RULE_SET));
  }

  private String encoded(byte[] text) throws IOException {
    return encoder.encodeResourceToString(bundles.convert(json.readTree(text), text));
  }

  private static List<byte[]> readTexts(List<String> files) throws IOException {
    List<byte[]> texts = new ArrayList<>();
    for (String file : files) {
      if (!file.endsWith(".ndjson")) {
        texts.add(Files.readAllBytes(Path.of(file)));
        continue;
      }
      for (String line : Files.readAllLines(Path.of(file))) {
        if (!line.isBlank()) texts.add(line.getBytes(StandardCharsets.UTF_8));
      }
    }
    return texts;
  }

  private void emit(List<byte[]> texts) throws IOException {
    PrintStream out = new PrintStream(System.out, false, StandardCharsets.UTF_8);
    for (byte[] text : texts) out.print(encoded(text) + "\n");
    out.flush();
  }

  private long runFor(double seconds, List<byte[]> texts) throws IOException {
    long end = System.nanoTime() + (long) (seconds * 1e9);
    long rounds = 0;
    do {
      for (byte[] text : texts) written += encoded(text).length();
      ++rounds;
    } while (System.nanoTime() < end);
    return rounds;
  }

  /** Nanoseconds: of this thread, of the whole process with collector and compiler, and of the clock. */
  private static long[] clocks() {
    OperatingSystemMXBean process = ManagementFactory.getPlatformMXBean(OperatingSystemMXBean.class);
    return new long[] {
      ManagementFactory.getThreadMXBean().getCurrentThreadCpuTime(), process.getProcessCpuTime(), System.nanoTime()
    };
  }

  private void time(List<byte[]> texts, double seconds) throws IOException {
    long resources = 0;
    long bytes = 0;
    for (byte[] text : texts) {
      Bundle bundle = bundles.convert(json.readTree(text), text);
      resources += bundle.getEntry().size();
      bytes += encoder.encodeResourceToString(bundle).getBytes(StandardCharsets.UTF_8).length;
    }
    runFor(seconds, texts);
    long[] before = clocks();
    double rounds = runFor(seconds, texts);
    long[] after = clocks();
    if (written == 0) throw new IllegalStateException("nothing was written");
    double[] took = new double[before.length];
    for (int i = 0; i < took.length; ++i) took[i] = (after[i] - before[i]) / 1e9 / rounds;
    System.out.printf(
        Locale.ROOT,
        "java: %.0f assessments/s, %.0f resources/s, %.0f bytes/s by processor time; %.0f assessments/s by the clock,"
            + " %.0f by processor time of all threads%n",
        texts.size() / took[0],
        resources / took[0],
        bytes / took[0],
        texts.size() / took[2],
        texts.size() / took[1]);
  }

  private static int run(List<String> args) throws Exception {
    boolean timed = args.size() > 3 && args.get(1).equals("--time");
    boolean emitted = args.size() > 2 && args.get(1).equals("--emit");
    if (!timed && !emitted) {
      System.err.print(USAGE);
      return 2;
    }
    ConvertBench bench = new ConvertBench(Path.of(args.get(0)));
    List<byte[]> texts = readTexts(args.subList(timed ? 3 : 2, args.size()));
    if (timed) bench.time(texts, Double.parseDouble(args.get(2)));
    else bench.emit(texts);
    return 0;
  }

  public static void main(String[] args) throws Exception {
    System.exit(run(List.of(args)));
  }
}
