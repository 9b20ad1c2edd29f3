package footbridge.peers;

import ca.uhn.fhir.validation.FhirValidator;
import ca.uhn.fhir.validation.ResultSeverityEnum;
import ca.uhn.fhir.validation.SingleValidationMessage;
import java.nio.charset.StandardCharsets;
import java.security.MessageDigest;
import java.security.NoSuchAlgorithmException;
import java.util.ArrayDeque;
import java.util.Deque;
import java.util.HashMap;
import java.util.HexFormat;
import java.util.List;
import java.util.Map;
import java.util.concurrent.ExecutionException;
import java.util.concurrent.ExecutorService;
import java.util.concurrent.Executors;
import java.util.concurrent.Future;
import java.util.function.Consumer;
import java.util.function.Supplier;

/**
 * Resources go through several validators at a time, one for each processor, which share nothing; what is found is
 * told in the order in which they came. A text that is byte for byte the same as one before is not looked at again:
 * the same validator says the same of it.
 */
final class Lanes {

  /** A text under way, and who hears what was found. */
  private record Waiting(Future<List<SingleValidationMessage>> found, Consumer<List<SingleValidationMessage>> teller) {}

  private final ThreadLocal<FhirValidator> validator;
  private final int width;
  private final ExecutorService pool;
  private final Deque<Waiting> waiting = new ArrayDeque<>();
  private final Map<String, Future<List<SingleValidationMessage>>> known = new HashMap<>();
  private int same;

  Lanes(Supplier<FhirValidator> maker) {
    validator = ThreadLocal.withInitial(maker);
    width = Integer.getInteger("footbridge.lanes", Runtime.getRuntime().availableProcessors());
    pool = Executors.newFixedThreadPool(width, work -> {
      Thread thread = new Thread(work);
      thread.setDaemon(true);
      return thread;
    });
  }

  /** Returns at once unless many are under way. */
  void give(String text, Consumer<List<SingleValidationMessage>> teller) {
    Future<List<SingleValidationMessage>> found = known.get(digest(text));
    if (found == null) {
      found = pool.submit(() -> messagesOf(text));
      known.put(digest(text), found);
    } else {
      same++;
    }
    waiting.add(new Waiting(found, teller));
    while (waiting.size() > 4 * width) {
      tellOne();
    }
  }

  /** Waits for all that was given. */
  void finish() {
    while (!waiting.isEmpty()) {
      tellOne();
    }
  }

  /** What is found in one text. */
  List<SingleValidationMessage> ask(String text) {
    return result(pool.submit(() -> messagesOf(text)));
  }

  /** How many were not looked at again. */
  int same() {
    return same;
  }

  private void tellOne() {
    Waiting first = waiting.remove();
    first.teller().accept(result(first.found()));
  }

  private static List<SingleValidationMessage> result(Future<List<SingleValidationMessage>> found) {
    try {
      return found.get();
    } catch (InterruptedException | ExecutionException e) {
      throw new IllegalStateException(e);
    }
  }

  private List<SingleValidationMessage> messagesOf(String text) {
    try {
      return List.copyOf(validator.get().validateWithResult(text).getMessages());
    } catch (RuntimeException e) {
      // Text that is not JSON, or not a resource, must count as an error and not end the run.
      SingleValidationMessage message = new SingleValidationMessage();
      message.setSeverity(ResultSeverityEnum.FATAL);
      message.setMessage(e.getMessage());
      return List.of(message);
    }
  }

  private static String digest(String text) {
    try {
      return HexFormat.of().formatHex(
          MessageDigest.getInstance("SHA-256").digest(text.getBytes(StandardCharsets.UTF_8)));
    } catch (NoSuchAlgorithmException e) {
      throw new IllegalStateException(e);
    }
  }
}
