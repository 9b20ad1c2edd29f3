package footbridge.peers;

import ca.uhn.fhir.batch2.jobs.config.Batch2JobsConfig;
import ca.uhn.fhir.context.FhirContext;
import ca.uhn.fhir.jpa.api.config.JpaStorageSettings;
import ca.uhn.fhir.jpa.api.model.HistoryCountModeEnum;
import ca.uhn.fhir.jpa.api.config.ThreadPoolFactoryConfig;
import ca.uhn.fhir.jpa.batch2.JpaBatch2Config;
import ca.uhn.fhir.jpa.config.HapiJpaConfig;
import ca.uhn.fhir.jpa.config.r4.JpaR4Config;
import ca.uhn.fhir.jpa.config.util.HapiEntityManagerFactoryUtil;
import ca.uhn.fhir.jpa.model.config.PartitionSettings;
import ca.uhn.fhir.jpa.model.config.SubscriptionSettings;
import ca.uhn.fhir.jpa.model.dialect.HapiFhirH2Dialect;
import ca.uhn.fhir.jpa.subscription.channel.config.SubscriptionChannelConfig;
import ca.uhn.fhir.jpa.subscription.submit.config.SubscriptionSubmitterConfig;
import jakarta.persistence.EntityManagerFactory;
import java.util.Properties;
import javax.sql.DataSource;
import org.apache.commons.dbcp2.BasicDataSource;
import org.springframework.beans.factory.config.ConfigurableListableBeanFactory;
import org.springframework.context.annotation.Bean;
import org.springframework.context.annotation.Configuration;
import org.springframework.context.annotation.Import;
import org.springframework.context.annotation.Primary;
import org.springframework.orm.jpa.JpaTransactionManager;
import org.springframework.orm.jpa.LocalContainerEntityManagerFactoryBean;

/** What the record server stores with: its own tables in a database of this process's memory. */
@Configuration
@Import({JpaR4Config.class, HapiJpaConfig.class, JpaBatch2Config.class, Batch2JobsConfig.class, ThreadPoolFactoryConfig.class,
    SubscriptionChannelConfig.class, SubscriptionSubmitterConfig.class})
class Storage {
    @Bean
    JpaStorageSettings storageSettings() {
        JpaStorageSettings settings = new JpaStorageSettings();
        // As it comes, a history keeps the length that it had when somebody looked at it before.
        settings.setHistoryCountMode(HistoryCountModeEnum.COUNT_ACCURATE);
        return settings;
    }

    @Bean
    PartitionSettings partitionSettings() {
        return new PartitionSettings();
    }

    @Bean
    SubscriptionSettings subscriptionSettings() {
        return new SubscriptionSettings();
    }

    @Bean
    DataSource dataSource() {
        BasicDataSource source = new BasicDataSource();
        source.setUrl("jdbc:h2:mem:record;DB_CLOSE_DELAY=-1");
        source.setUsername("sa");
        source.setPassword("");
        source.setMaxTotal(20);
        return source;
    }

    @Bean
    @Primary
    LocalContainerEntityManagerFactoryBean entityManagerFactory(
            ConfigurableListableBeanFactory beans, FhirContext fhir, JpaStorageSettings settings, DataSource source) {
        LocalContainerEntityManagerFactoryBean made = HapiEntityManagerFactoryUtil.newEntityManagerFactory(beans, fhir, settings);
        made.setPersistenceUnitName("record");
        made.setDataSource(source);
        Properties properties = new Properties();
        properties.put("hibernate.dialect", HapiFhirH2Dialect.class.getName());
        properties.put("hibernate.hbm2ddl.auto", "update");
        properties.put("hibernate.search.enabled", "false");
        properties.put("hibernate.jdbc.batch_size", "20");
        made.setJpaProperties(properties);
        return made;
    }

    @Bean
    @Primary
    JpaTransactionManager transactionManager(EntityManagerFactory factory) {
        return new JpaTransactionManager(factory);
    }
}
